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
use super::value::Value;

/// The value of a node. `item` is the element that `exists` or `all` is looking at.
pub(super) fn evaluate(node: &Node, scene: &Scene, item: Option<&Value>) -> Value {
    let of = |node: &Node| evaluate(node, scene, item);
    match node {
        Node::Constant(value) => value.clone(),
        Node::Name(name) => scene.value(*name),
        Node::Item => item.cloned().unwrap_or(Value::Absent),
        Node::Has(name) => Value::Truth(scene.value(*name) != Value::Absent),
        Node::Not(inner) => match of(inner) {
            Value::Truth(truth) => Value::Truth(!truth),
            other => other,
        },
        Node::Negate(inner) => match of(inner) {
            Value::Number(number) => Value::Number(-number),
            other => other,
        },
        Node::And(left, right) => both(of(left), || of(right)),
        Node::Or(left, right) => either(of(left), || of(right)),
        Node::If(test, yes, no) => match of(test) {
            Value::Truth(truth) => of(if truth { yes } else { no }),
            other => other,
        },
        Node::Arithmetic(operator, left, right) => match strict(of(left), of(right)) {
            Ok((Value::Number(left), Value::Number(right))) => arithmetic(*operator, left, right),
            Ok((other, _)) | Err(other) => other,
        },
        Node::Compare(comparison, left, right) => match strict(of(left), of(right)) {
            Ok((left, right)) => Value::Truth(compare(*comparison, &left, &right)),
            Err(other) => other,
        },
        Node::In(needle, list) => match strict(of(needle), of(list)) {
            Ok((Value::Number(needle), Value::Numbers(list))) => Value::Truth(list.iter().any(|one| same(*one, needle))),
            Ok((Value::Text(needle), Value::Texts(list))) => Value::Truth(list.contains(&needle)),
            Ok((other, _)) | Err(other) => other,
        },
        Node::Size(list) => match of(list) {
            Value::Texts(texts) => Value::count(texts.len()),
            Value::Numbers(numbers) => Value::count(numbers.len()),
            other => other,
        },
        Node::Exists(list, body) => over(&of(list), scene, body, true),
        Node::All(list, body) => over(&of(list), scene, body, false),
    }
}

/// Both operands, or what stands for the result where one of them has no value.
fn strict(left: Value, right: Value) -> Result<(Value, Value), Value> {
    match (left, right) {
        (Value::Absent, _) | (_, Value::Absent) => Err(Value::Absent),
        (Value::Unknown(why), _) | (_, Value::Unknown(why)) => Err(Value::Unknown(why)),
        operands => Ok(operands),
    }
}

fn both(left: Value, right: impl FnOnce() -> Value) -> Value {
    if left == Value::Truth(false) {
        return left;
    }
    match (left, right()) {
        (_, Value::Truth(false)) => Value::Truth(false),
        (Value::Absent, _) | (_, Value::Absent) => Value::Absent,
        (Value::Truth(true), right) => right,
        (left, _) => left,
    }
}

fn either(left: Value, right: impl FnOnce() -> Value) -> Value {
    if left == Value::Truth(true) {
        return left;
    }
    match (left, right()) {
        (_, Value::Truth(true)) => Value::Truth(true),
        (Value::Unknown(why), _) | (_, Value::Unknown(why)) => Value::Unknown(why),
        (Value::Truth(false), right) => right,
        (left, _) => left,
    }
}

/// `exists` (`any`) or `all` over a list.
fn over(list: &Value, scene: &Scene, body: &Node, any: bool) -> Value {
    let mut so_far = Value::Truth(!any);
    let mut take_in = |item: Value| {
        let each = || evaluate(body, scene, Some(&item));
        let before = std::mem::replace(&mut so_far, Value::Absent);
        so_far = if any { either(before, each) } else { both(before, each) };
    };
    match list {
        Value::Texts(texts) => texts.iter().for_each(|text| take_in(Value::Text(text.clone()))),
        Value::Numbers(numbers) => numbers.iter().for_each(|number| take_in(Value::Number(*number))),
        other => return other.clone(),
    }
    so_far
}

fn arithmetic(operator: Arithmetic, left: f64, right: f64) -> Value {
    match operator {
        Arithmetic::Plus => Value::number(left + right),
        Arithmetic::Minus => Value::number(left - right),
        Arithmetic::Times => Value::number(left * right),
        Arithmetic::Over if right == 0.0 => Value::unknown("a division by zero"),
        Arithmetic::Over => Value::number(left / right),
    }
}

fn compare(comparison: Comparison, left: &Value, right: &Value) -> bool {
    match (comparison, left, right) {
        (Comparison::Less, Value::Number(left), Value::Number(right)) => left < right,
        (Comparison::AtMost, Value::Number(left), Value::Number(right)) => left <= right,
        (Comparison::More, Value::Number(left), Value::Number(right)) => left > right,
        (Comparison::AtLeast, Value::Number(left), Value::Number(right)) => left >= right,
        (Comparison::Not, left, right) => left != right,
        (_, left, right) => left == right,
    }
}

/// Equality as CEL has it: exact. Measured values are rounded before they come here.
#[allow(clippy::float_cmp)]
fn same(left: f64, right: f64) -> bool {
    left == right
}
