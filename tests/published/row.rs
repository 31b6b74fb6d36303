//! One published figure beside ours.

/// Whether somebody opened the source.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Seen {
    /// Read at the source, or at a public copy of it.
    Confirmed,
    /// From memory; somebody with the paper should open it.
    Memory,
}

/// A figure as it is printed, and what comes out here.
#[derive(Clone, Debug)]
pub(crate) struct Row {
    /// Heading it stands under.
    pub(crate) topic: &'static str,
    /// What it is, with its unit.
    pub(crate) what: String,
    /// Where it is printed.
    pub(crate) source: &'static str,
    pub(crate) seen: Seen,
    /// Figure by figure as printed.
    pub(crate) printed: String,
    pub(crate) ours: f64,
    /// How far ours may be off where print is not rounded from the exact value, and why.
    pub(crate) allowed: Option<(f64, &'static str)>,
}

impl Row {
    /// The printed number, and half of its last digit.
    fn reading(&self) -> (f64, f64) {
        let value = self.printed.parse().unwrap_or_else(|e| panic!("{}: {} {e}", self.what, self.printed));
        let decimals = self.printed.split_once('.').map_or(0, |(_, d)| d.len());
        (value, 0.5 * 10.0_f64.powi(-i32::try_from(decimals).expect("few digits")))
    }

    /// Ours less what is printed.
    pub(crate) fn difference(&self) -> f64 {
        self.ours - self.reading().0
    }

    /// Greatest difference that is allowed: half of the last printed digit, unless said otherwise.
    pub(crate) fn allowance(&self) -> f64 {
        let half = self.reading().1;
        // A figure in the middle between two roundings may be printed either way.
        self.allowed.map_or(half, |(most, _)| most.max(half)) * (1.0 + ROUNDING)
    }

    pub(crate) fn holds(&self) -> bool {
        self.difference().abs() <= self.allowance()
    }

    /// Ours, to one digit more than is printed.
    pub(crate) fn ours_in_words(&self) -> String {
        let decimals = self.printed.split_once('.').map_or(0, |(_, d)| d.len());
        format!("{:.*}", decimals + 1, self.ours)
    }
}

/// Room for rounding in binary, a share of the allowance.
const ROUNDING: f64 = 1.0e-6;

/// Rows of one topic and source.
pub(crate) struct Page {
    pub(crate) topic: &'static str,
    pub(crate) source: &'static str,
    pub(crate) seen: Seen,
    pub(crate) rows: Vec<Row>,
}

impl Page {
    pub(crate) fn new(topic: &'static str, source: &'static str, seen: Seen) -> Self {
        Self { topic, source, seen, rows: Vec::new() }
    }

    /// A figure that is printed as rounded from the exact value.
    pub(crate) fn row(&mut self, what: impl Into<String>, printed: &str, ours: f64) {
        self.push(what, printed, ours, None);
    }

    /// A figure that is printed otherwise: how far ours may be off, and why.
    pub(crate) fn off(
        &mut self,
        what: impl Into<String>,
        printed: &str,
        ours: f64,
        most: f64,
        why: &'static str,
    ) {
        self.push(what, printed, ours, Some((most, why)));
    }

    fn push(
        &mut self,
        what: impl Into<String>,
        printed: &str,
        ours: f64,
        allowed: Option<(f64, &'static str)>,
    ) {
        let (topic, source, seen) = (self.topic, self.source, self.seen);
        self.rows.push(Row {
            topic,
            what: what.into(),
            source,
            seen,
            printed: printed.to_owned(),
            ours,
            allowed,
        });
    }
}
