//! The document type declaration: checked by the grammar of XML 1.0 (fifth edition), read for the entities it declares.
//!
//! An external identifier is ignored, as every reader that does not validate may do; entities that
//! would have to be fetched are refused, used or not, and so are references to parameter entities. Declarations of elements,
//! attributes and notations are checked and passed over: defaults of attributes declared there are not applied.

mod cursor;
mod declaration;
#[cfg(test)]
mod tests;

use super::entity::{Entities, Entity};
use super::wellformed::{Fault, check_comment, check_instruction};
use cursor::Cursor;

/// Reads a whole `<!DOCTYPE ...>` token (production 28).
pub(super) fn read(token: &str) -> Result<Entities, Fault> {
    let mut entities = Entities::default();
    let mut text = Cursor::new(token);
    text.expect("<!DOCTYPE")?;
    text.space()?;
    text.name()?;
    let spaced = text.skip_space();
    if spaced && text.external_id()? {
        entities.may_be_more = true;
        text.skip_space();
    }
    if text.eat("[") {
        while !text.eat("]") {
            declaration(&mut text, &mut entities)?;
        }
        text.skip_space();
    }
    text.expect(">")?;
    if text.rest().is_empty() { Ok(entities) } else { Err(text.due("the end of the declaration")) }
}

/// One declaration of the internal subset, or white space (productions 28a to 29).
fn declaration(text: &mut Cursor, entities: &mut Entities) -> Result<(), Fault> {
    if text.skip_space() {
        return Ok(());
    }
    let start = text.at;
    let shift = |fault: Fault| Fault { offset: fault.offset + start, ..fault };
    if text.rest().starts_with("<!--") {
        return check_comment(text.through("-->", 4)?).map_err(shift);
    }
    if text.rest().starts_with("<?") {
        return check_instruction(text.through("?>", 2)?).map_err(shift);
    }
    if text.eat("<!ENTITY") {
        return entity(text, entities, start);
    }
    if text.eat("<!ELEMENT") {
        return declaration::element(text);
    }
    if text.eat("<!ATTLIST") {
        return declaration::attributes(text, entities);
    }
    if text.eat("<!NOTATION") {
        return declaration::notation(text);
    }
    Err(text.due("a declaration or \"]\""))
}

/// An entity declaration from behind `<!ENTITY` (productions 70 to 74, 76).
fn entity(text: &mut Cursor, entities: &mut Entities, start: usize) -> Result<(), Fault> {
    text.space()?;
    let parameter = text.eat("%");
    if parameter {
        text.space()?;
    }
    let name = text.name()?;
    text.space()?;
    if text.external_id()? {
        if text.skip_space() && !parameter && text.eat("NDATA") {
            text.space()?;
            text.name()?;
            text.skip_space();
        }
        text.expect(">")?;
        let what = format!("the entity \"{name}\" is declared to lie outside the file");
        return Err(Fault::new(what, "Nothing outside the file is read: remove the declaration", start, text.at - start));
    }
    let at = text.at + 1;
    let entity = Entity::read(text.literal()?, at)?;
    text.skip_space();
    text.expect(">")?;
    if !parameter {
        entities.declare(name, entity);
    }
    Ok(())
}
