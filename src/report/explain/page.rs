//! What a page of the rule book is made of, before it is shown on a terminal or in Markdown.

/// Which page.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Name {
    /// The list of all rules.
    Index,
    /// A rule, by its id.
    Rule(String),
    /// All readers.
    Readers,
    /// One reader, by the name of the role.
    Reader(String),
    /// All papers.
    Papers,
    /// All values that rules may read.
    Fields,
    /// The house style in force.
    House,
}

impl Name {
    /// Its file among the others.
    pub fn file(&self) -> String {
        match self {
            Self::Index => "README.md".to_owned(),
            Self::Readers => "readers.md".to_owned(),
            Self::Papers => "papers.md".to_owned(),
            Self::Fields => "fields.md".to_owned(),
            Self::House => "house.md".to_owned(),
            Self::Rule(name) | Self::Reader(name) => format!("{name}.md"),
        }
    }

    /// The command that shows it.
    pub fn command(&self) -> String {
        match self {
            Self::Index => "stavegauge explain".to_owned(),
            Self::Readers => "stavegauge explain --roles".to_owned(),
            Self::Papers => "stavegauge explain --papers".to_owned(),
            Self::Fields => "stavegauge explain --fields".to_owned(),
            Self::House => "stavegauge explain --house".to_owned(),
            Self::Rule(name) => format!("stavegauge explain {name}"),
            Self::Reader(name) => format!("stavegauge explain --role {name}"),
        }
    }
}

/// A stretch of text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Span {
    /// Words.
    Plain(String),
    /// A name or a value as rule files write it.
    Code(String),
    /// The name of another page.
    Link(String, Name),
    /// Where another page is found.
    See(Name),
}

/// A text without line breaks.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Text(pub(super) Vec<Span>);

impl Text {
    /// Words.
    pub(super) fn new(words: impl Into<String>) -> Self {
        Self(vec![Span::Plain(words.into())])
    }

    /// A name as rule files write it.
    pub(super) fn code(name: impl Into<String>) -> Self {
        Self(vec![Span::Code(name.into())])
    }

    /// Words that lead to another page.
    pub(super) fn link(words: impl Into<String>, to: Name) -> Self {
        Self(vec![Span::Link(words.into(), to)])
    }

    /// Where another page is found.
    pub(super) fn see(page: Name) -> Self {
        Self(vec![Span::See(page)])
    }

    /// This text and another.
    #[must_use]
    pub(super) fn and(mut self, other: impl Into<Text>) -> Self {
        self.0.extend(other.into().0);
        self
    }

    /// Texts with something between.
    pub(super) fn joined(texts: impl IntoIterator<Item = Text>, between: &str) -> Self {
        let mut all = Self::default();
        for text in texts {
            if !all.0.is_empty() {
                all = all.and(between);
            }
            all = all.and(text);
        }
        all
    }

    /// Whether nothing stands in it.
    pub(super) fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

impl From<&str> for Text {
    fn from(words: &str) -> Self {
        Self::new(words)
    }
}

impl From<String> for Text {
    fn from(words: String) -> Self {
        Self::new(words)
    }
}

/// A piece of a page.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Block {
    /// A heading below the title.
    Heading(Text),
    /// A heading below that.
    Subheading(Text),
    /// A paragraph.
    Paragraph(Text),
    /// Points of equal weight.
    Points(Vec<Text>),
    /// Terms, each with paragraphs about it.
    Terms(Vec<(Text, Vec<Text>)>),
    /// A condition as it is written.
    Condition(String),
    /// Rows of cells below their heads; every row has as many cells as there are heads.
    Table {
        /// The heads.
        heads: Vec<&'static str>,
        /// The rows.
        rows: Vec<Vec<Text>>,
    },
}

/// A page of the rule book.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Page {
    /// Which.
    pub name: Name,
    /// Its title.
    pub title: String,
    /// What stands on it.
    pub blocks: Vec<Block>,
}

impl Page {
    pub(super) fn new(name: Name, title: impl Into<String>) -> Self {
        Self { name, title: title.into(), blocks: Vec::new() }
    }

    pub(super) fn heading(&mut self, words: impl Into<Text>) {
        self.blocks.push(Block::Heading(words.into()));
    }

    pub(super) fn subheading(&mut self, words: impl Into<Text>) {
        self.blocks.push(Block::Subheading(words.into()));
    }

    pub(super) fn paragraph(&mut self, words: impl Into<Text>) {
        self.blocks.push(Block::Paragraph(words.into()));
    }

    pub(super) fn points(&mut self, points: Vec<Text>) {
        if !points.is_empty() {
            self.blocks.push(Block::Points(points));
        }
    }

    pub(super) fn table(&mut self, heads: impl Into<Vec<&'static str>>, rows: Vec<Vec<Text>>) {
        self.blocks.push(Block::Table { heads: heads.into(), rows });
    }
}
