//! A thin hand on the XML writer: open, close, leaf.

use quick_xml::Writer;
use quick_xml::events::{BytesDecl, BytesEnd, BytesStart, BytesText, Event};

/// Attributes of an element: name and value, unescaped.
pub type Attributes<'a> = [(&'a str, String)];

/// An XML document in the making, one element a line.
pub struct Xml {
    writer: Writer<Vec<u8>>,
    open: Vec<&'static str>,
}

impl Xml {
    /// A document with its XML declaration and the document type of a score: `partwise` or `timewise`.
    pub fn score(form: &str) -> Self {
        let mut xml = Self { writer: Writer::new_with_indent(Vec::new(), b' ', 1), open: Vec::new() };
        xml.put(Event::Decl(BytesDecl::new("1.0", Some("UTF-8"), None)));
        let (capital, rest) = form.split_at(1);
        let public = format!("-//Recordare//DTD MusicXML 4.0 {}{rest}//EN", capital.to_uppercase());
        let doctype = format!("score-{form} PUBLIC \"{public}\" \"http://www.musicxml.org/dtds/{form}.dtd\"");
        xml.put(Event::DocType(BytesText::from_escaped(doctype)));
        xml
    }

    /// Opens an element.
    pub fn open(&mut self, name: &'static str, attributes: &Attributes) {
        self.put(Event::Start(start(name, attributes)));
        self.open.push(name);
    }

    /// Closes the element opened last.
    pub fn close(&mut self) {
        let name = self.open.pop().expect("an element is open");
        self.put(Event::End(BytesEnd::new(name)));
    }

    /// An element with nothing in it.
    pub fn empty(&mut self, name: &'static str, attributes: &Attributes) {
        self.put(Event::Empty(start(name, attributes)));
    }

    /// An element with text in it.
    pub fn leaf(&mut self, name: &'static str, attributes: &Attributes, text: &str) {
        self.put(Event::Start(start(name, attributes)));
        self.put(Event::Text(BytesText::new(text)));
        self.put(Event::End(BytesEnd::new(name)));
    }

    /// The text of the document, which must be complete.
    pub fn finish(self) -> String {
        assert!(self.open.is_empty(), "left open: {:?}", self.open);
        let mut text = String::from_utf8(self.writer.into_inner()).expect("written from str");
        text.push('\n');
        text
    }

    fn put(&mut self, event: Event) {
        self.writer.write_event(event).expect("writing into memory does not fail");
    }
}

fn start<'a>(name: &'a str, attributes: &'a Attributes) -> BytesStart<'a> {
    let mut start = BytesStart::new(name);
    for (key, value) in attributes {
        start.push_attribute((*key, value.as_str()));
    }
    start
}
