//! The calls that a text makes, by name: for recipes of other people, which may call nothing but words, the functions of the
//! interpreter, and their own. (The interpreter would let a module call the functions of the script that imports it.)
//!
//! A name counts as called where `(` follows it, blanks and comments aside. Texts and comments are passed over; what
//! stands in `${…}` is code. Calls of another module (`m::f()`) are that module's matter.

/// Words of the language that `(` may follow.
const LANGUAGE: &[&str] = &[
    "if",
    "else",
    "while",
    "until",
    "loop",
    "for",
    "in",
    "do",
    "switch",
    "return",
    "throw",
    "catch",
    "try",
    "let",
    "const",
    "call",
    "curry",
    "print",
    "debug",
    "type_of",
    "is_shared",
    "is_def_var",
    "is_def_fn",
    "this",
    "import",
    "as",
    "export",
];

/// A call: the name, with its line and column from 1.
#[derive(Debug, PartialEq, Eq)]
pub(crate) struct Named {
    pub(crate) name: String,
    pub(crate) line: usize,
    pub(crate) column: usize,
}

/// Where the reader stands.
struct Reader<'a> {
    rest: std::iter::Peekable<std::str::Chars<'a>>,
    line: usize,
    column: usize,
    /// The last name, until something else than a blank or a comment follows.
    last: Option<Named>,
    /// Whether `::` or `fn` stood before the name that comes next.
    passed: bool,
    /// The sign before this one.
    before: char,
    found: Vec<Named>,
    /// How many brackets are open in each text that holds code.
    open: Vec<usize>,
}

/// The names that a text calls, but for words of the language, in order.
pub(crate) fn calls(text: &str) -> Vec<Named> {
    let mut reader = Reader {
        rest: text.chars().peekable(),
        line: 1,
        column: 1,
        last: None,
        passed: false,
        before: ' ',
        found: Vec::new(),
        open: Vec::new(),
    };
    while reader.step() {}
    reader.found
}

impl Reader<'_> {
    fn next(&mut self) -> Option<char> {
        let c = self.rest.next()?;
        if c == '\n' {
            self.line += 1;
            self.column = 1;
        } else {
            self.column += 1;
        }
        Some(c)
    }

    fn step(&mut self) -> bool {
        let (line, column) = (self.line, self.column);
        let Some(c) = self.next() else { return false };
        match (c, self.rest.peek().copied()) {
            ('/', Some('/')) => {
                while self.rest.peek().is_some_and(|c| *c != '\n') && self.next().is_some() {}
            }
            ('/', Some('*')) => self.comment(),
            ('"' | '\'', _) => {
                self.text(c);
                self.other(c);
            }
            ('`', _) => {
                self.code_text();
                self.other(c);
            }
            ('#', Some('"' | '#')) => self.raw_text(),
            ('{', _) => {
                if let Some(count) = self.open.last_mut() {
                    *count += 1;
                }
                self.other(c);
            }
            ('}', _) => {
                match self.open.last_mut() {
                    Some(0) => {
                        self.open.pop();
                        self.code_text();
                    }
                    Some(count) => *count -= 1,
                    None => {}
                }
                self.other(c);
            }
            // `f!(…)` calls too.
            ('!', Some('(')) => {}
            ('(', _) => {
                if let Some(named) = self.last.take()
                    && !LANGUAGE.contains(&&*named.name)
                {
                    self.found.push(named);
                }
                self.other(c);
            }
            (c, _) if c.is_whitespace() => {}
            (c, _) if c == '_' || c.is_alphabetic() => self.name(c, line, column),
            _ => {
                self.passed = c == ':' && self.before == ':';
                self.last = None;
                self.before = c;
            }
        }
        true
    }

    /// A sign that ends a name.
    fn other(&mut self, c: char) {
        self.last = None;
        self.passed = false;
        self.before = c;
    }

    fn name(&mut self, first: char, line: usize, column: usize) {
        let mut name = String::from(first);
        while let Some(c) = self.rest.peek().copied().filter(|c| *c == '_' || c.is_alphanumeric()) {
            name.push(c);
            self.next();
        }
        let after_number = self.before.is_ascii_digit();
        let is_fn = name == "fn";
        self.last = (!self.passed && !is_fn && !after_number).then_some(Named { name, line, column });
        self.passed = is_fn;
        self.before = first;
    }

    fn comment(&mut self) {
        self.next();
        let (mut deep, mut before) = (1, ' ');
        while deep > 0
            && let Some(c) = self.next()
        {
            match (before, c) {
                ('/', '*') => (deep, before) = (deep + 1, ' '),
                ('*', '/') => (deep, before) = (deep - 1, ' '),
                _ => before = c,
            }
        }
    }

    fn text(&mut self, end: char) {
        while let Some(c) = self.next() {
            if c == '\\' {
                self.next();
            } else if c == end {
                return;
            }
        }
    }

    fn raw_text(&mut self) {
        let mut marks = 1;
        while self.rest.peek() == Some(&'#') {
            marks += 1;
            self.next();
        }
        if self.rest.peek() != Some(&'"') {
            return;
        }
        self.next();
        while let Some(c) = self.next() {
            let mut seen = 0;
            while c == '"' && seen < marks && self.rest.peek() == Some(&'#') {
                seen += 1;
                self.next();
            }
            if seen == marks {
                return;
            }
        }
    }

    /// The rest of a text that may hold code, up to its end or to the next code.
    fn code_text(&mut self) {
        let mut before = ' ';
        while let Some(c) = self.next() {
            match (before, c) {
                (_, '`') => return,
                (_, '\\') => {
                    self.next();
                }
                ('$', '{') => {
                    self.open.push(0);
                    return;
                }
                _ => {}
            }
            before = c;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(text: &str, wanted: &[&str]) {
        let names: Vec<String> = calls(text).into_iter().map(|named| named.name).collect();
        assert_eq!(names, wanted, "{text}");
    }

    #[test]
    fn calls_are_found_and_nothing_else_is() {
        check("f(1); a.g (2); h!(3); fn own(x) { }", &["f", "g", "h"]);
        check("m::f(1); if (a) { while (b) { } }", &[]);
        check("let f = 1; f + (2); \"f(1)\"; 'f'; // f(1)\n/* f(1) /* g(2) */ h(3) */ k(1)", &["k"]);
        check("`f(1) ${g(2)} h(3) ${`a ${k(4)} b`} l(5)` + m(6)", &["g", "k", "m"]);
        check("#\"f(1)\"#; ##\"a\"# f(1)\"##; g(1)", &["g"]);
        check("f /* why */ (1); f // why\n(2)", &["f", "f"]);
        check("\"\\\"f(1)\"; `${#{ a: 1 }.len()} f(1)`; g(1)", &["len", "g"]);
        let named = calls("let a = 1;\n  secret(a);");
        assert_eq!(named, [Named { name: "secret".to_owned(), line: 2, column: 3 }]);
    }
}
