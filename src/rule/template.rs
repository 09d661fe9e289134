//! Messages: templates in a closed subset of the minijinja language, checked when they are loaded.
//!
//! A template may print names and formulas (`{{ gap.white_mm | mm }}`) and choose between wordings
//! (`{% if count > 1 %}`, `{% elif %}`, `{% else %}`, `{% endif %}`; `is known` asks whether a value is
//! there). Loops, assignments, calls and `~` are refused, so no template can run away; fuel and a limit
//! on the length of what is written stand behind that. Lists are refused too, and measured ones come as texts:
//! `*` makes a list of a hundred million entries out of a short one, and fuel does not see who looks through it. Nothing of
//! the machine is within its reach: the
//! environment has no loader, no globals and no functions.
//!
//! Names: those of conditions, and for merged findings `count`, `pages`, `systems`, `bars`, `staves`,
//! `parts` (texts such as `2 and 5`) and `where` (the place of the worst). Filters: `mm`, `heights`, `number`, `percent`,
//! `listed`, `plural("system", "systems")`. A value that is absent or unknown prints as `(not known)`;
//! a number without a filter has at most two decimal places.

use super::error::Fault;
use super::scope::{Ref, Scene, Scope};
use super::template_scan::scan;
use super::value::Seen;
use super::words::{NOT_KNOWN, listed, short};
use crate::house::{Units, WordsOf};
use crate::units::MM_PER_INCH;
use minijinja::value::ValueKind;
use minijinja::{Environment, Error, ErrorKind, UndefinedBehavior, Value as Word};
use std::borrow::Cow;
use std::collections::BTreeMap;
use std::io;
use std::sync::{PoisonError, RwLock, RwLockReadGuard};

/// Steps a template may take. The longest template that loads takes a few hundred.
const FUEL: u64 = 10_000;
/// The most bytes a message may have.
const MOST_WRITTEN: usize = 4_000;
/// Most bytes of a text from a file that a message tells whole.
const MOST_TOLD: usize = 900;
/// The most bytes a template may have.
pub const MOST_BYTES: usize = 2_000;
/// The names that tell of all findings merged into one.
pub(super) const MERGED: [&str; 7] = ["count", "pages", "systems", "bars", "staves", "parts", "where"];
/// The filters there are.
pub(super) const FILTERS: [&str; 6] = ["mm", "heights", "number", "percent", "listed", "plural"];

/// One template of a rule, checked.
#[derive(Debug, Clone)]
pub struct Template {
    key: String,
    text: String,
    reads: Vec<(Ref, String)>,
}

impl Template {
    /// The template as it is written.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// The names it prints or asks for.
    pub(super) fn reads(&self) -> impl Iterator<Item = Ref> {
        self.reads.iter().map(|(name, _)| *name)
    }
}

/// All templates of a book, each compiled once.
pub(super) struct Templates {
    environment: RwLock<Environment<'static>>,
    /// When a template that is added gets compiled.
    compile: Compile,
    words: Option<WordsOf>,
}

/// When a template is compiled.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Compile {
    /// When it is added, so that what the engine cannot read is refused.
    AtOnce,
    /// When it is first written: those that come with the program were tried before, and few of them have anything to say.
    OnUse,
}

impl std::fmt::Debug for Templates {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Templates").finish_non_exhaustive()
    }
}

impl Default for Templates {
    fn default() -> Self {
        let mut environment = Environment::empty();
        environment.set_undefined_behavior(UndefinedBehavior::Strict);
        environment.set_fuel(Some(FUEL));
        environment.set_formatter(|out, _, value| out.write_str(&plain(value)?).map_err(Error::from));
        environment.add_filter("mm", |value: &Word| with_number(value, |mm| format!("{} mm", short(mm, 1))));
        environment.add_filter("number", |value: &Word| with_number(value, |number| short(number, 1)));
        environment.add_filter("percent", |value: &Word| with_number(value, |ratio| format!("{} %", short(ratio * 100.0, 0))));
        environment.add_filter("heights", |value: &Word| {
            with_number(value, |heights| match short(heights, 1) {
                one if one == "1" => "1 staff height".to_owned(),
                many => format!("{many} staff heights"),
            })
        });
        environment.add_filter("plural", |value: &Word, one: &str, many: &str| {
            with_number(value, |count| match short(count, 1) {
                number if number == "1" => format!("1 {one}"),
                number => format!("{number} {many}"),
            })
        });
        environment.add_filter("listed", |value: &Word| plain(value));
        environment.add_test("known", |value: &Word| !value.is_none() && !value.is_undefined());
        Self { environment: RwLock::new(environment), compile: Compile::AtOnce, words: None }
    }
}

impl Templates {
    /// Writes lengths in these units, and in these words.
    pub fn speak(&mut self, units: Units, words: Option<WordsOf>) {
        self.words = words;
        if units == Units::In {
            let inches = |value: &Word| with_number(value, |mm| format!("{} in", short(mm / MM_PER_INCH, 2)));
            self.environment.get_mut().unwrap_or_else(PoisonError::into_inner).add_filter("mm", inches);
        }
    }

    /// Checks and compiles a template under a key of its own. Spans in a fault are bytes of `text`.
    pub fn add(&mut self, key: String, text: &str, scope: &Scope) -> Result<Template, Fault> {
        if text.len() > MOST_BYTES {
            return Err(Fault::new(format!("a message of {} bytes; {MOST_BYTES} is the most", text.len())));
        }
        let mut names = scan(text)?;
        if self.compile == Compile::AtOnce {
            let environment = self.environment.get_mut().unwrap_or_else(PoisonError::into_inner);
            let unread = |error: &Error| Fault::new(format!("this message cannot be read: {}", error.detail().unwrap_or("syntax error")));
            environment.add_template_owned(key.clone(), text.to_owned()).map_err(|error| unread(&error))?;
            // What is a name where, the engine knows best.
            names = environment.get_template(&key).map_err(|error| unread(&error))?.undeclared_variables(true).into_iter().collect();
        }
        names.sort_unstable();
        names.dedup();
        let mut reads = Vec::new();
        for name in names.into_iter().filter(|name| !MERGED.contains(&name.as_str())) {
            let found = if name.contains('.') { scope.resolve_dotted(&name) } else { Err(unknown_word(&name, scope)) };
            reads.push((found.map_err(|fault| at_name(text, &name, fault))?, name));
        }
        Ok(Template { key, text: text.to_owned(), reads })
    }

    /// Compiles what is added from now on so.
    pub fn compile(&mut self, when: Compile) {
        self.compile = when;
    }

    /// The message for one thing. Where the template fails on a value, the words say so.
    pub fn write(&self, template: &Template, scene: &Scene, merged: &BTreeMap<&'static str, Word>) -> String {
        let mut context: BTreeMap<&str, Word> = merged.iter().map(|(name, word)| (*name, word.clone())).collect();
        let mut spaces: BTreeMap<&str, BTreeMap<&str, Word>> = BTreeMap::new();
        for (name, dotted) in &template.reads {
            let Some((space, field)) = dotted.split_once('.') else { continue };
            spaces.entry(space).or_default().insert(field, word(scene.value(*name)));
        }
        context.extend(spaces.into_iter().map(|(space, fields)| (space, Word::from_pairs(fields))));
        let mut written = Bounded::default();
        let done = self.compiled(template).and_then(|environment| {
            environment.get_template(&template.key)?.render_captured_to(Word::from_pairs(context), &mut written).map(drop)
        });
        match done {
            Ok(()) => {
                let text = String::from_utf8_lossy(&written.bytes).split_ascii_whitespace().collect::<Vec<_>>().join(" ");
                self.words.map_or_else(|| text.clone(), |words| words.say(&text).into_owned())
            }
            Err(error) => format!("(message cannot be written: {})", error.detail().unwrap_or("the template fails")),
        }
    }

    /// The environment, with this template compiled in it.
    fn compiled(&self, template: &Template) -> Result<RwLockReadGuard<'_, Environment<'static>>, Error> {
        let environment = self.environment.read().unwrap_or_else(PoisonError::into_inner);
        if environment.get_template(&template.key).is_ok() {
            return Ok(environment);
        }
        drop(environment);
        let mut adding = self.environment.write().unwrap_or_else(PoisonError::into_inner);
        adding.add_template_owned(template.key.clone(), template.text.clone())?;
        drop(adding);
        Ok(self.environment.read().unwrap_or_else(PoisonError::into_inner))
    }
}

/// What is written, up to a bound.
#[derive(Default)]
struct Bounded {
    bytes: Vec<u8>,
}

impl io::Write for Bounded {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        if self.bytes.len() + bytes.len() > MOST_WRITTEN {
            return Err(io::Error::other("too long"));
        }
        self.bytes.extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

fn unknown_word(name: &str, scope: &Scope) -> Fault {
    if scope.namespaces().any(|known| known == name) {
        return Fault::new(format!("`{name}` alone is no value")).help(format!("write `{name}.` and a field"));
    }
    Fault::unknown_name(format!("there is no `{name}` here"), name, scope.namespaces().chain(MERGED))
}

/// The fault with the place of the first mention of a name, where it is written as it is called.
fn at_name(text: &str, name: &str, fault: Fault) -> Fault {
    match text.find(name) {
        Some(start) => fault.at(start..start + name.len()),
        None => fault,
    }
}

/// A value as the template language has it; none where there is no value.
fn word(value: Seen) -> Word {
    match value {
        Seen::Absent | Seen::Unknown(_) => Word::from(()),
        Seen::Number(number) => Word::from(number),
        Seen::Text(text) => Word::from(shortened(text).as_ref()),
        Seen::Truth(truth) => Word::from(truth),
        Seen::Texts(texts) => Word::from(listed(&texts.iter().map(ToString::to_string).collect::<Vec<_>>())),
        Seen::Numbers(numbers) => Word::from(listed(&numbers.iter().map(|number| short(*number, 2)).collect::<Vec<_>>())),
    }
}

/// A text from a file, of which a very long one is told by its beginning and its end: the whole of it is no message.
pub(super) fn shortened(text: &str) -> Cow<'_, str> {
    if text.len() <= MOST_TOLD {
        return Cow::Borrowed(text);
    }
    let (first, rest) = text.split_at(text.floor_char_boundary(MOST_TOLD * 2 / 3));
    let last = &rest[rest.ceil_char_boundary(rest.len() - MOST_TOLD / 6)..];
    Cow::Owned(format!("{first} … {last}"))
}

fn with_number(value: &Word, make: impl FnOnce(f64) -> String) -> Result<String, Error> {
    if value.is_none() {
        return Ok(NOT_KNOWN.to_owned());
    }
    let number = f64::try_from(value.clone()).map_err(|_| Error::new(ErrorKind::InvalidOperation, "this filter wants a number"))?;
    Ok(make(number))
}

/// A value without a filter.
fn plain(value: &Word) -> Result<String, Error> {
    match value.kind() {
        ValueKind::None => Ok(NOT_KNOWN.to_owned()),
        ValueKind::Number => with_number(value, |number| short(number, 2)),
        ValueKind::Bool => Ok(if value.is_true() { "yes" } else { "no" }.to_owned()),
        ValueKind::String => Ok(value.to_string()),
        _ => Err(Error::new(ErrorKind::UndefinedError, "a value that cannot be printed")),
    }
}

#[cfg(test)]
mod tests {
    use super::super::field::Unit;
    use super::super::finding::Where;
    use super::super::merge::words;
    use super::super::scope::Noted;
    use super::super::testing::{GAP, Gap, vocabulary};
    use super::super::value::Value;
    use super::*;

    fn written(text: &str, gap: &Gap) -> Result<String, Fault> {
        let vocabulary = vocabulary();
        let own = vocabulary.subject("gap").expect("there");
        let scope = Scope { own, file: None, role: None, limits: vec![("share", Unit::Ratio)] };
        let mut templates = Templates::default();
        let template = templates.add("x".to_owned(), text, &scope)?;
        let gap = GAP.of(gap);
        let facts = Noted::new(&gap);
        let places: Vec<Where> = [1, 2, 2, 5].map(|page| Where { page: Some(page), ..Where::default() }).into();
        Ok(templates.write(
            &template,
            &Scene { own: &facts, file: &facts, role: &facts, limits: &[0.147] },
            &words(&Where { page: Some(2), ..Where::default() }, &places.iter().collect::<Vec<_>>()),
        ))
    }

    fn gap() -> Gap {
        Gap { heights: Value::Number(1.0), needed: Value::Absent, ..Gap::default() }
    }

    #[test]
    fn what_messages_look_like() {
        for (text, expected) in [
            ("{{ gap.white_mm | mm }} ({{ gap.white_heights | heights }})", "20 mm (1 staff height)"),
            ("{{ 10 / 3 }} {{ (10 / 3) | number }}", "3.33 3.3"),
            ("{{ limit.share | percent }}", "15 %"),
            ("{{ gap.marks | listed }}; {{ gap.marks }}; {{ gap.depths_mm }}", "p and cresc.; p and cresc.; 1.5 and 2.5"),
            ("{{ count | plural('page', 'pages') }}: {{ pages }}", "4 pages: 1, 2 and 5"),
            ("{{ gap.needed_mm | mm }}, {{ gap.needed_mm }}", "(not known), (not known)"),
            ("{% if gap.needed_mm is known %}a{% elif gap.family_border %}b{% else %}c{% endif %}", "c"),
            ("{{ gap.above }} <&> {{ gap.family_border }}\n  here", "strings <&> no here"),
            ("{{ where }}", "p. 2"),
            ("{{ (gap).white_mm | mm }}", "20 mm"),
        ] {
            assert_eq!(written(text, &gap()).as_deref(), Ok(expected), "{text}");
        }
    }

    #[test]
    fn a_value_of_the_wrong_sort_is_said_in_the_message() {
        let said = written("{{ gap.above | mm }}", &gap()).expect("loads");
        assert_eq!(said, "(message cannot be written: this filter wants a number)");
    }

    /// No loop, no macro, no file, no environment; and what is left is bounded.
    #[test]
    fn a_template_cannot_run_away_or_look_around() {
        for text in [
            "{% for a in [1] %}{% for b in [1] %}x{% endfor %}{% endfor %}",
            "{% set a = 'x' %}",
            "{% macro a() %}{{ a() }}{% endmacro %}",
            "{% include '/etc/passwd' %}",
            "{% import 'a' as b %}",
            "{{ range(100000) }}",
            "{{ debug() }}",
            "{{ env.HOME }}",
            "{{ gap }}",
            "{{ gap['white_mm'] }}",
            "{{ gap.white_mm.x }}",
            "{{ self }}",
            "{{ is }}",
            "{{ and }}",
            "{% if else %}x{% endif %}",
            "{{ [1] * 100000000 }}",
            "{% if 0 in [1] * 100000000 %}{% endif %}",
            "{{ {'a': 1} }}",
            "{{ gap.above[0:1] }}",
        ] {
            assert!(written(text, &gap()).is_err(), "{text}");
        }
        for text in [
            "{{ 'x' * 100000 }}",
            "{{ 'x' * 100000000 }}",
            "{{ gap.marks * 100000000 }}",
            "{% if 'x' in gap.marks * 100000000 %}{% endif %}",
            "{{ (1, 2) * 100000000 }}",
            "{{ (1, 2) }}",
            "{{ 9 ** 9 ** 9 ** 9 }}",
        ] {
            let said = written(text, &gap()).expect("loads");
            assert!(said.starts_with("(message cannot be written"), "{text}: {} bytes", said.len());
        }
        assert!(written(&"x".repeat(MOST_BYTES + 1), &gap()).is_err());
        let deep = format!("{{{{ {}1{} }}}}", "(".repeat(900), ")".repeat(900));
        assert!(written(&deep, &gap()).is_err());
    }

    /// The bound behind the closed subset, tried without it.
    #[test]
    fn fuel_ends_a_loop() {
        let mut templates = Templates::default();
        let text = "{% for a in [1,1,1,1,1,1,1,1,1,1] * 1000 %}{% for b in [1,1,1,1,1,1,1,1,1,1] * 1000 %}{% endfor %}{% endfor %}";
        let environment = templates.environment.get_mut().expect("sound");
        environment.add_template("x", text).expect("the engine takes it");
        let done = environment.get_template("x").and_then(|compiled| compiled.render(Word::from(())));
        assert!(done.is_err_and(|error| error.kind() == ErrorKind::OutOfFuel));
    }

    #[test]
    fn a_very_long_text_is_told_by_its_ends() {
        let whole = "o".repeat(MOST_TOLD);
        assert_eq!(shortened(&whole), whole);
        for sign in ["o", "ö", "♭", "𝄞"] {
            let long = format!("begin {} end", sign.repeat(MOST_TOLD));
            let told = shortened(&long);
            assert!(told.starts_with("begin ") && told.ends_with(" end") && told.contains(" … "), "{told}");
            assert!(told.len() <= MOST_TOLD, "{} bytes", told.len());
        }
    }
}
