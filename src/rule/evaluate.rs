//! What a condition says of one thing.
//!
//! Five values meet here: true, false, numbers and texts, *absent* and *unknown* ([`Value`]).
//!
//! - Arithmetic, comparisons, `!`, `in`, `size` and `?:` (of its test) are strict: absent if one operand is
//!   absent, else unknown if one is unknown. `!absent` is absent: a case that turns on what does not exist
//!   does not apply, whichever way round it is written.
//! - `a && b` is the first of these that either side is: false, absent, unknown, true.
//! - `a || b` is the first of these that either side is: true, unknown, absent, false.
//! - `has(x)` is false if `x` is absent and true otherwise, unknown included: it asks whether the question
//!   arises. `exists` and `all` are `||` and `&&` over a list; over an empty one they are false and true.
//! - A division by zero, and any result that is not finite, is unknown.
//!
//! A condition holds if it is true; absent and false are silence; unknown is "not judged" with the reason
//! met first from the left. Evaluation always ends: the tree is bounded ([`super::condition`]) and the
//! only loops are one pass over a list that was measured.

use super::condition::{Arithmetic, Comparison, Node};
use super::scope::Scene;
use super::value::Seen;

/// The value of a node. `item` is the element that `exists` or `all` is looking at.
pub(super) fn evaluate<'a>(node: &'a Node, scene: &Scene<'a>, item: Seen<'a>) -> Seen<'a> {
    // Most operands are names and constants: half of the calls that there would be are not made.
    let of = |node: &'a Node| match node {
        Node::Constant(value) => value.seen(),
        Node::Name(name) => scene.value(*name),
        inner => evaluate(inner, scene, item),
    };
    match node {
        Node::Constant(value) => value.seen(),
        Node::Name(name) => scene.value(*name),
        Node::Item => item,
        Node::Has(name) => Seen::Truth(!matches!(scene.value(*name), Seen::Absent)),
        Node::Not(inner) => match of(inner) {
            Seen::Truth(truth) => Seen::Truth(!truth),
            other => other,
        },
        Node::Negate(inner) => match of(inner) {
            Seen::Number(number) => Seen::Number(-number),
            other => other,
        },
        Node::And(left, right) => both(of(left), || of(right)),
        Node::Or(left, right) => either(of(left), || of(right)),
        Node::If(test, yes, no) => match of(test) {
            Seen::Truth(truth) => of(if truth { yes } else { no }),
            other => other,
        },
        Node::Arithmetic(operator, left, right) => match (of(left), of(right)) {
            (Seen::Number(left), Seen::Number(right)) => arithmetic(*operator, left, right),
            (left, right) => missing(left, right).unwrap_or(left),
        },
        Node::Compare(comparison, left, right) => {
            let (left, right) = (of(left), of(right));
            missing(left, right).unwrap_or_else(|| Seen::Truth(compare(*comparison, left, right)))
        }
        Node::In(needle, list) => match (of(needle), of(list)) {
            (Seen::Number(needle), Seen::Numbers(list)) => Seen::Truth(list.iter().any(|one| same(*one, needle))),
            (Seen::Text(needle), Seen::Texts(list)) => Seen::Truth(list.iter().any(|one| **one == *needle)),
            (needle, list) => missing(needle, list).unwrap_or(needle),
        },
        Node::Size(list) => match of(list) {
            Seen::Texts(texts) => Seen::count(texts.len()),
            Seen::Numbers(numbers) => Seen::count(numbers.len()),
            other => other,
        },
        Node::Exists(list, body) => over(of(list), scene, body, true),
        Node::All(list, body) => over(of(list), scene, body, false),
    }
}

/// What stands for the result where one of two operands has no value; `None` where both have one.
fn missing<'a>(left: Seen<'a>, right: Seen<'a>) -> Option<Seen<'a>> {
    match (left, right) {
        (Seen::Absent, _) | (_, Seen::Absent) => Some(Seen::Absent),
        (Seen::Unknown(why), _) | (_, Seen::Unknown(why)) => Some(Seen::Unknown(why)),
        _ => None,
    }
}

fn both<'a>(left: Seen<'a>, right: impl FnOnce() -> Seen<'a>) -> Seen<'a> {
    match left {
        Seen::Truth(false) => left,
        Seen::Truth(true) => right(),
        left => match (left, right()) {
            (_, Seen::Truth(false)) => Seen::Truth(false),
            (Seen::Absent, _) | (_, Seen::Absent) => Seen::Absent,
            (left, _) => left,
        },
    }
}

fn either<'a>(left: Seen<'a>, right: impl FnOnce() -> Seen<'a>) -> Seen<'a> {
    match left {
        Seen::Truth(true) => left,
        Seen::Truth(false) => right(),
        left => match (left, right()) {
            (_, Seen::Truth(true)) => Seen::Truth(true),
            (Seen::Unknown(why), _) | (_, Seen::Unknown(why)) => Seen::Unknown(why),
            (left, _) => left,
        },
    }
}

/// `exists` (`any`) or `all` over a list.
fn over<'a>(list: Seen<'a>, scene: &Scene<'a>, body: &'a Node, any: bool) -> Seen<'a> {
    let mut so_far = Seen::Truth(!any);
    let mut take_in = |item: Seen<'a>| {
        let each = || evaluate(body, scene, item);
        so_far = if any { either(so_far, each) } else { both(so_far, each) };
    };
    match list {
        Seen::Texts(texts) => texts.iter().for_each(|text| take_in(Seen::Text(text))),
        Seen::Numbers(numbers) => numbers.iter().for_each(|number| take_in(Seen::Number(*number))),
        other => return other,
    }
    so_far
}

fn arithmetic<'a>(operator: Arithmetic, left: f64, right: f64) -> Seen<'a> {
    match operator {
        Arithmetic::Plus => Seen::number(left + right),
        Arithmetic::Minus => Seen::number(left - right),
        Arithmetic::Times => Seen::number(left * right),
        Arithmetic::Over if right == 0.0 => Seen::Unknown("a division by zero"),
        Arithmetic::Over => Seen::number(left / right),
    }
}

fn compare(comparison: Comparison, left: Seen, right: Seen) -> bool {
    match (comparison, left, right) {
        (Comparison::Less, Seen::Number(left), Seen::Number(right)) => left < right,
        (Comparison::AtMost, Seen::Number(left), Seen::Number(right)) => left <= right,
        (Comparison::More, Seen::Number(left), Seen::Number(right)) => left > right,
        (Comparison::AtLeast, Seen::Number(left), Seen::Number(right)) => left >= right,
        (Comparison::Not, left, right) => left != right,
        (_, left, right) => left == right,
    }
}

/// Equality as CEL has it: exact. Measured values are rounded before they come here.
#[allow(clippy::float_cmp)]
fn same(left: f64, right: f64) -> bool {
    left == right
}

#[cfg(test)]
mod tests {
    use super::super::condition::Condition;
    use super::super::field::{Facts, Kind};
    use super::super::scope::{Noted, Scope};
    use super::super::testing::{GAP, vocabulary};
    use super::super::value::Value;
    use super::*;
    use crate::place::Place;
    use proptest::prelude::*;
    use std::collections::HashMap;

    #[derive(Debug)]
    struct Given(Vec<Value>);

    impl Facts for Given {
        fn columns(&self) -> usize {
            self.0.len()
        }

        fn value(&self, column: usize) -> Value {
            self.0.get(column).cloned().unwrap_or(Value::Absent)
        }

        fn place(&self, _column: usize) -> Option<Place> {
            None
        }
    }

    fn value_of(text: &str, given: &Given) -> Value {
        let vocabulary = vocabulary();
        let scope = Scope { own: vocabulary.subject("gap").expect("there"), file: None, role: None, limits: vec![] };
        let condition = Condition::new(text, Kind::Truth, &scope).unwrap_or_else(|fault| panic!("{text}: {fault:?}"));
        let given = Noted::new(given);
        match evaluate(&condition.node, &Scene { own: &given, file: &given, role: &given, limits: &[] }, Seen::Absent) {
            Seen::Absent => Value::Absent,
            Seen::Unknown(why) => Value::unknown(why.to_owned()),
            Seen::Truth(truth) => Value::Truth(truth),
            other => panic!("{text}: {other:?}"),
        }
    }

    /// The tables of the module's own documentation.
    #[test]
    fn absent_unknown_true_and_false() {
        // white_mm is absent, white_heights unknown, needed_mm 3.
        let given = Given(vec![Value::Absent, Value::unknown("why"), Value::Number(3.0)]);
        let words = [
            ("gap.white_mm > 1", "absent"),
            ("gap.white_heights > 1", "unknown"),
            ("gap.needed_mm > 1", "true"),
            ("gap.needed_mm > 9", "false"),
        ];
        let said = |text: &str| match value_of(text, &given) {
            Value::Absent => "absent",
            Value::Unknown(_) => "unknown",
            Value::Truth(true) => "true",
            Value::Truth(false) => "false",
            other => panic!("{text}: {other:?}"),
        };
        let first_of = |order: [&'static str; 4], left, right| order.into_iter().find(|word| *word == left || *word == right);
        for (left, l) in words {
            for (right, r) in words {
                assert_eq!(Some(said(&format!("{left} && {right}"))), first_of(["false", "absent", "unknown", "true"], l, r), "{l} && {r}");
                assert_eq!(Some(said(&format!("{left} || {right}"))), first_of(["true", "unknown", "absent", "false"], l, r), "{l} || {r}");
            }
        }
        for (text, word) in [
            ("!(gap.white_mm > 1)", "absent"),
            ("!(gap.white_heights > 1)", "unknown"),
            ("gap.white_mm + gap.white_heights > 1", "absent"),
            ("gap.white_heights == gap.needed_mm", "unknown"),
            ("gap.needed_mm / 0 > 1", "unknown"),
            ("gap.needed_mm / 0 > 1 || true", "true"),
            ("1e308 * 10 > 1", "unknown"),
            ("has(gap.white_mm)", "false"),
            ("has(gap.white_heights)", "true"),
            ("gap.white_heights > 1 ? true : true", "unknown"),
            ("gap.needed_mm > 1 ? gap.white_mm > 1 : true", "absent"),
            ("gap.white_mm in [1, 2]", "absent"),
            ("size(gap.marks) == 0", "absent"),
            ("gap.depths_mm.all(d, d > 1)", "absent"),
            ("3 == 3.0 && 1 / 2 == 0.5", "true"),
        ] {
            assert_eq!(said(text), word, "{text}");
        }
    }

    #[test]
    fn a_number_that_is_none_is_unknown() {
        let given = Given(vec![Value::Number(f64::NAN), Value::Number(f64::INFINITY)]);
        assert!(matches!(value_of("gap.white_mm == gap.white_mm", &given), Value::Unknown(_)));
        assert!(matches!(value_of("gap.white_heights > 1", &given), Value::Unknown(_)));
    }

    /// Texts of formulas that give numbers, without operators that the interpreter has for doubles only.
    fn number(depth: u32) -> BoxedStrategy<String> {
        let leaf = prop_oneof![
            (-9_i32..9).prop_map(|half| format!("{:.1}", f64::from(half) / 2.0)),
            prop::sample::select(vec!["gap.white_mm", "gap.white_heights", "gap.needed_mm"]).prop_map(str::to_owned),
        ];
        if depth == 0 {
            return leaf.boxed();
        }
        let (left, right) = (number(depth - 1), number(depth - 1));
        prop_oneof![
            leaf,
            (left, prop::sample::select(vec!["+", "-", "*", "/"]), right)
                .prop_map(|(left, sign, right)| format!("({left} {sign} {right})")),
            number(depth - 1).prop_map(|inner| format!("-({inner})")),
            (truth(depth - 1), number(depth - 1), number(depth - 1)).prop_map(|(test, yes, no)| format!("({test} ? {yes} : {no})")),
        ]
        .boxed()
    }

    /// Texts of conditions.
    fn truth(depth: u32) -> BoxedStrategy<String> {
        let leaf = prop::sample::select(vec![
            "true",
            "gap.family_border",
            "has(gap.white_mm)",
            "gap.above == 'strings'",
            "gap.above in ['strings', 'winds']",
            "'p' in gap.marks",
            "size(gap.marks) > 1.0",
            "gap.marks.exists(m, m == 'p')",
            "gap.marks.all(m, m != gap.above)",
            "gap.depths_mm.exists(d, d > gap.needed_mm)",
            "gap.depths_mm.all(d, d * 2.0 <= gap.white_mm)",
        ])
        .prop_map(str::to_owned);
        if depth == 0 {
            return leaf.boxed();
        }
        let signs = prop::sample::select(vec!["<", "<=", ">", ">=", "==", "!="]);
        prop_oneof![
            1 => leaf,
            3 => (number(depth - 1), signs, number(depth - 1)).prop_map(|(left, sign, right)| format!("{left} {sign} {right}")),
            1 => number(depth - 1).prop_map(|needle| format!("{needle} in [0.5, 1.0, -2.0]")),
            1 => truth(depth - 1).prop_map(|inner| format!("!({inner})")),
            3 => (truth(depth - 1), prop::sample::select(vec!["&&", "||"]), truth(depth - 1)).prop_map(|(left, sign, right)| format!("({left}) {sign} ({right})")),
        ]
        .boxed()
    }

    fn maybe(value: impl Strategy<Value = Value> + 'static) -> BoxedStrategy<Value> {
        prop_oneof![5 => value, 1 => Just(Value::Absent)].boxed()
    }

    fn numbers() -> impl Strategy<Value = Value> {
        (-9_i32..9).prop_map(|half| Value::Number(f64::from(half) / 2.0))
    }

    /// Values for the columns of the test subject, in their order.
    fn given() -> impl Strategy<Value = Given> {
        let texts = prop::collection::vec(prop::sample::select(vec!["p", "f", "strings"]), 0..3).prop_map(Value::texts);
        let depths = prop::collection::vec((-9_i32..9).prop_map(f64::from), 0..3).prop_map(Value::numbers);
        (
            [maybe(numbers()), maybe(numbers()), maybe(numbers())],
            maybe(any::<bool>().prop_map(Value::Truth)),
            maybe(prop::sample::select(vec!["strings", "winds", "brass"]).prop_map(Value::text)),
            maybe(texts),
            maybe(depths),
        )
            .prop_map(|([white, heights, needed], border, above, marks, depths)| {
                Given(vec![white, heights, needed, border, above, marks, depths])
            })
    }

    /// The values as the interpreter has them: a map without the keys that are absent.
    fn interpreted(text: &str, given: &Given) -> Option<bool> {
        let convert = |value: &Value| match value {
            Value::Number(number) => Some(cel::Value::Float(*number)),
            Value::Truth(truth) => Some(cel::Value::Bool(*truth)),
            Value::Text(text) => Some(cel::Value::from(&**text)),
            Value::Texts(texts) => Some(cel::Value::from(texts.iter().map(|text| cel::Value::from(&**text)).collect::<Vec<_>>())),
            Value::Numbers(numbers) => Some(cel::Value::from(numbers.iter().copied().map(cel::Value::Float).collect::<Vec<_>>())),
            Value::Absent | Value::Unknown(_) => None,
        };
        let names = GAP.columns.iter().map(|column| column.field.name);
        let map: HashMap<String, cel::Value> =
            names.zip(&given.0).filter_map(|(name, value)| Some((name.to_owned(), convert(value)?))).collect();
        let mut context = cel::Context::default();
        context.add_variable_from_value("gap", map);
        match cel::Program::compile(text).expect("our parser took it").execute(&context) {
            Ok(cel::Value::Bool(truth)) => Some(truth),
            Ok(other) => panic!("{text}: {other:?}"),
            Err(_) => None,
        }
    }

    proptest! {
        /// Against the interpreter of the `cel` crate, by the specification of the Common Expression Language:
        /// where this evaluator says true or false, the interpreter says the same; where it says absent, the
        /// interpreter fails (but for a division by zero, which there is an infinity).
        #[test]
        fn the_interpreter_agrees(text in truth(3), given in given()) {
            let theirs = interpreted(&text, &given);
            match value_of(&text, &given) {
                Value::Truth(ours) => prop_assert_eq!(Some(ours), theirs),
                Value::Absent if !text.contains('/') => prop_assert_eq!(None, theirs),
                _ => {}
            }
        }
    }
}
