//! Checks what the parser made of a condition against the table of fields and the closed subset.

use super::condition::{Arithmetic, Comparison, MOST_DEPTH, Node, word_at};
use super::error::Fault;
use super::field::Kind;
use super::scope::{Ref, Scope};
use super::value::Value;
use cel::common::ast::{CallExpr, ComprehensionExpr, Expr, IdedExpr, LiteralValue, SelectExpr, SourceInfo, operators};
use std::ops::Range;

/// The checked tree of a text, the sort of its value, and every name it reads, each once, in order.
pub(super) type Checked = (Node, Kind, Vec<Ref>);

/// Checks a parsed text.
pub(super) fn check(text: &str, tree: &IdedExpr, info: &SourceInfo, scope: &Scope) -> Result<Checked, Fault> {
    let mut check = Check { text, info, scope, item: None, reads: Vec::new() };
    let (node, kind) = check.node(tree, 0)?;
    check.reads.sort_unstable();
    check.reads.dedup();
    Ok((node, kind, check.reads))
}

struct Check<'a> {
    text: &'a str,
    info: &'a SourceInfo,
    scope: &'a Scope<'a>,
    /// The name that `exists` or `all` gives the element, and its kind.
    item: Option<(String, Kind)>,
    reads: Vec<Ref>,
}

impl Check<'_> {
    /// The bytes of the source a node stands for.
    fn span(&self, expr: &IdedExpr) -> Range<usize> {
        let start = self.info.offset_for(expr.id).map_or(0, |(start, _)| start as usize);
        word_at(self.text, start)
    }

    fn refuse(&self, expr: &IdedExpr, what: &str) -> Fault {
        Fault::new(format!("{what} cannot stand in a condition"))
            .help("numbers, texts, true, false, + - * /, comparisons, && || ! ?:, in, has, size, exists and all can")
            .at(self.span(expr))
    }

    fn node(&mut self, expr: &IdedExpr, depth: usize) -> Result<(Node, Kind), Fault> {
        if depth >= MOST_DEPTH {
            return Err(Fault::new(format!("this condition is more than {MOST_DEPTH} deep")).help("split it into two cases"));
        }
        match &expr.expr {
            Expr::Literal(literal) => self.literal(expr, literal),
            Expr::Ident(name) => match &self.item {
                Some((item, kind)) if item == name => Ok((Node::Item, *kind)),
                _ if self.scope.namespaces().any(|known| known == name) => {
                    Err(Fault::new(format!("`{name}` alone is no value")).help(format!("write `{name}.` and a field")).at(self.span(expr)))
                }
                _ => Err(self.named(expr, self.scope.resolve(name, ""))),
            },
            Expr::Select(select) => self.select(expr, select),
            Expr::Call(call) => self.call(expr, call, depth + 1),
            Expr::Comprehension(loops) => self.comprehension(expr, loops, depth + 1),
            Expr::List(_) => Err(self.refuse(expr, "a list that is not behind `in`")),
            Expr::Map(_) | Expr::Struct(_) => Err(self.refuse(expr, "a map")),
            Expr::Unspecified => Err(self.refuse(expr, "an empty expression")),
        }
    }

    fn literal(&self, expr: &IdedExpr, literal: &LiteralValue) -> Result<(Node, Kind), Fault> {
        let (value, kind) = match literal {
            LiteralValue::Boolean(truth) => (Value::Truth(**truth), Kind::Truth),
            LiteralValue::Double(number) => (Value::Number(**number), Kind::Number),
            LiteralValue::Int(number) => {
                let exact = i32::try_from(**number).map_err(|_| self.refuse(expr, "a whole number past 2,147,483,647"))?;
                (Value::Number(f64::from(exact)), Kind::Number)
            }
            LiteralValue::String(text) => (Value::text(text.inner()), Kind::Text),
            LiteralValue::UInt(_) => return Err(self.refuse(expr, "a number with `u`")),
            LiteralValue::Bytes(_) => return Err(self.refuse(expr, "a text of bytes")),
            LiteralValue::Null => return Err(self.refuse(expr, "`null`")),
        };
        Ok((Node::Constant(value), kind))
    }

    /// The fault of a name that does not resolve, with its place.
    fn named(&self, expr: &IdedExpr, found: Result<Ref, Fault>) -> Fault {
        found.err().unwrap_or_else(|| Fault::new("this is no value")).at(self.span(expr))
    }

    fn resolve(&mut self, expr: &IdedExpr, select: &SelectExpr) -> Result<Ref, Fault> {
        let Expr::Ident(namespace) = &select.operand.expr else {
            return Err(self.refuse(expr, "a name with more than one dot"));
        };
        let name = self.scope.resolve(namespace, &select.field).map_err(|fault| fault.at(self.span(&select.operand)))?;
        self.reads.push(name);
        Ok(name)
    }

    fn select(&mut self, expr: &IdedExpr, select: &SelectExpr) -> Result<(Node, Kind), Fault> {
        let name = self.resolve(expr, select)?;
        if select.test { Ok((Node::Has(name), Kind::Truth)) } else { Ok((Node::Name(name), self.scope.kind(name))) }
    }

    fn of_kind(&mut self, expr: &IdedExpr, kind: Kind, depth: usize) -> Result<Box<Node>, Fault> {
        let (node, found) = self.node(expr, depth)?;
        if found == kind {
            Ok(Box::new(node))
        } else {
            Err(Fault::new(format!("{} is wanted here, this is {}", kind.words(), found.words())).at(self.span(expr)))
        }
    }

    fn call(&mut self, expr: &IdedExpr, call: &CallExpr, depth: usize) -> Result<(Node, Kind), Fault> {
        use operators as op;
        let args: Vec<&IdedExpr> = call.target.iter().map(AsRef::as_ref).chain(&call.args).collect();
        match (call.func_name.as_str(), args.as_slice()) {
            (op::LOGICAL_NOT, [inner]) => Ok((Node::Not(self.of_kind(inner, Kind::Truth, depth)?), Kind::Truth)),
            (op::NEGATE, [inner]) => {
                let inner = self.of_kind(inner, Kind::Number, depth)?;
                let node = if let Node::Constant(Value::Number(number)) = *inner {
                    Node::Constant(Value::Number(-number))
                } else {
                    Node::Negate(inner)
                };
                Ok((node, Kind::Number))
            }
            (op::LOGICAL_AND, [left, right]) => {
                Ok((Node::And(self.of_kind(left, Kind::Truth, depth)?, self.of_kind(right, Kind::Truth, depth)?), Kind::Truth))
            }
            (op::LOGICAL_OR, [left, right]) => {
                Ok((Node::Or(self.of_kind(left, Kind::Truth, depth)?, self.of_kind(right, Kind::Truth, depth)?), Kind::Truth))
            }
            (op::CONDITIONAL, [test, yes, no]) => {
                let test = self.of_kind(test, Kind::Truth, depth)?;
                let (yes, kind) = self.node(yes, depth)?;
                Ok((Node::If(test, Box::new(yes), self.of_kind(no, kind, depth)?), kind))
            }
            (op::IN, [needle, list]) => self.within(needle, list, depth),
            ("size", [list]) => {
                let (node, kind) = self.node(list, depth)?;
                match kind {
                    Kind::Texts | Kind::Numbers => Ok((Node::Size(Box::new(node)), Kind::Number)),
                    _ => Err(Fault::new(format!("`size` wants a list, this is {}", kind.words())).at(self.span(list))),
                }
            }
            (name, [left, right]) => {
                let arithmetic = match name {
                    op::ADD => Arithmetic::Plus,
                    op::SUBSTRACT => Arithmetic::Minus,
                    op::MULTIPLY => Arithmetic::Times,
                    op::DIVIDE => Arithmetic::Over,
                    _ => return self.comparison(expr, name, left, right, depth),
                };
                let left = self.of_kind(left, Kind::Number, depth)?;
                Ok((Node::Arithmetic(arithmetic, left, self.of_kind(right, Kind::Number, depth)?), Kind::Number))
            }
            (name, _) => Err(self.refuse(expr, &format!("`{}`", name.trim_matches(['_', '@'])))),
        }
    }

    fn comparison(&mut self, expr: &IdedExpr, name: &str, left: &IdedExpr, right: &IdedExpr, depth: usize) -> Result<(Node, Kind), Fault> {
        let comparison = match name {
            operators::LESS => Comparison::Less,
            operators::LESS_EQUALS => Comparison::AtMost,
            operators::GREATER => Comparison::More,
            operators::GREATER_EQUALS => Comparison::AtLeast,
            operators::EQUALS => Comparison::Same,
            operators::NOT_EQUALS => Comparison::Not,
            other => return Err(self.refuse(expr, &format!("`{}`", other.trim_matches(['_', '@'])))),
        };
        let (node, kind) = self.node(left, depth)?;
        let fits = match comparison {
            Comparison::Same | Comparison::Not => matches!(kind, Kind::Number | Kind::Text | Kind::Truth),
            _ => kind == Kind::Number,
        };
        if !fits {
            return Err(Fault::new(format!("{} cannot be compared so", kind.words())).at(self.span(left)));
        }
        Ok((Node::Compare(comparison, Box::new(node), self.of_kind(right, kind, depth)?), Kind::Truth))
    }

    fn within(&mut self, needle: &IdedExpr, list: &IdedExpr, depth: usize) -> Result<(Node, Kind), Fault> {
        let (node, kind) = self.node(needle, depth)?;
        let wanted = match kind {
            Kind::Number => Kind::Numbers,
            Kind::Text => Kind::Texts,
            _ => return Err(Fault::new(format!("`in` wants a number or a text, this is {}", kind.words())).at(self.span(needle))),
        };
        let list = match &list.expr {
            Expr::List(literal) => Box::new(Node::Constant(self.constants(literal.elements.as_slice(), kind)?)),
            // A list looked through for every element of another: the steps of a condition would multiply.
            _ if self.item.is_some() => return Err(self.refuse(list, "`in` with a field inside `exists` or `all`")),
            _ => self.of_kind(list, wanted, depth)?,
        };
        Ok((Node::In(Box::new(node), list), Kind::Truth))
    }

    /// A list of constants, all of one kind.
    fn constants(&self, elements: &[IdedExpr], kind: Kind) -> Result<Value, Fault> {
        let mut texts = Vec::new();
        let mut numbers = Vec::new();
        for element in elements {
            let Expr::Literal(literal) = &element.expr else {
                return Err(self.refuse(element, "anything but constants in a list"));
            };
            match self.literal(element, literal)? {
                (Node::Constant(Value::Text(text)), found) if found == kind => texts.push(text),
                (Node::Constant(Value::Number(number)), found) if found == kind => numbers.push(number),
                (_, found) => {
                    return Err(Fault::new(format!("{} is wanted here, this is {}", kind.words(), found.words())).at(self.span(element)));
                }
            }
        }
        Ok(if kind == Kind::Text { Value::Texts(texts.into()) } else { Value::Numbers(numbers.into()) })
    }

    /// `exists` and `all`, which the parser has already turned into a fold.
    fn comprehension(&mut self, expr: &IdedExpr, loops: &ComprehensionExpr, depth: usize) -> Result<(Node, Kind), Fault> {
        let make = match (&loops.accu_init.expr, &loops.loop_step.expr) {
            (Expr::Literal(LiteralValue::Boolean(start)), Expr::Call(step)) => match (step.func_name.as_str(), **start) {
                (operators::LOGICAL_OR, false) => step.args.get(1).map(|body| (body, Node::Exists as fn(_, _) -> _)),
                (operators::LOGICAL_AND, true) => step.args.get(1).map(|body| (body, Node::All as fn(_, _) -> _)),
                _ => None,
            },
            _ => None,
        };
        let Some((body, make)) = make else { return Err(self.refuse(expr, "`map`, `filter` or `exists_one`")) };
        if self.item.is_some() {
            return Err(self.refuse(expr, "`exists` or `all` inside another"));
        }
        if self.scope.namespaces().any(|known| known == loops.iter_var) {
            return Err(Fault::new(format!("`{}` already means something here", loops.iter_var))
                .help("take another letter")
                .at(self.span(expr)));
        }
        let (list, kind) = self.node(&loops.iter_range, depth)?;
        let each = match kind {
            Kind::Texts => Kind::Text,
            Kind::Numbers => Kind::Number,
            _ => return Err(Fault::new(format!("a list is wanted here, this is {}", kind.words())).at(self.span(&loops.iter_range))),
        };
        self.item = Some((loops.iter_var.clone(), each));
        let body = self.of_kind(body, Kind::Truth, depth)?;
        self.item = None;
        Ok((make(Box::new(list), body), Kind::Truth))
    }
}
