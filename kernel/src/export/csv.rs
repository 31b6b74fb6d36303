//! Schedules as CSV (RFC 4180 fields, UTF-8, decimal point, one header row).

use super::{OutFile, Writer};
use crate::error::{Error, Result};
use crate::output::Output;
use crate::table::{Cell, Table};
use crate::work::Work;

/// The registry row.
pub const ROW: Writer = Writer { name: "csv", summary: "schedules as CSV, one file per table", write };

fn write(_work: &Work, output: &Output) -> Result<Vec<OutFile>> {
    output.tables.iter().map(csv_file).collect()
}

fn csv_file(table: &Table) -> Result<OutFile> {
    let bytes = csv_bytes(table)
        .map_err(|e| Error::bug(format!("schedule cannot be written: {e}")).at(table.name.clone()))?;
    Ok(OutFile { path: format!("schedules/{}.csv", table.name), bytes })
}

/// A table as CSV.
pub(crate) fn csv_bytes(table: &Table) -> Result<Vec<u8>, csv::Error> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(table.columns.iter().map(|c| &c.name))?;
    for row in &table.rows {
        writer.write_record(row.iter().map(cell_text))?;
    }
    writer.into_inner().map_err(|e| e.into_error().into())
}

/// A cell as text, with a decimal point and without a minus before zero.
pub(super) fn cell_text(cell: &Cell) -> String {
    match cell {
        Cell::Text(text) => text.clone(),
        Cell::Number(x, decimals) => crate::text::fixed(*x, *decimals),
        Cell::Empty => String::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::table::Column;

    fn table() -> Table {
        Table {
            name: "parts".to_owned(),
            title: "Parts".to_owned(),
            columns: ["part", "length mm"].map(|n| Column { name: n.to_owned() }).to_vec(),
            rows: vec![
                vec![Cell::Text("A/\"east\", with a comma".to_owned()), Cell::Number(1234.56, 1)],
                vec![Cell::Text("Ä\nB".to_owned()), Cell::Number(-0.01, 1)],
                vec![Cell::Empty, Cell::Empty],
            ],
        }
    }

    #[test]
    fn a_schedule_reads_back_as_it_was() {
        let file = csv_file(&table()).expect("writes");
        assert_eq!(file.path, "schedules/parts.csv");
        let mut reader = csv::Reader::from_reader(file.bytes.as_slice());
        assert_eq!(reader.headers().expect("header"), vec!["part", "length mm"]);
        let rows: Vec<csv::StringRecord> = reader.records().map(|r| r.expect("row")).collect();
        assert_eq!(rows[0], vec!["A/\"east\", with a comma", "1234.6"]);
        assert_eq!(rows[1], vec!["Ä\nB", "0.0"]);
        assert_eq!(rows[2], vec!["", ""]);
    }
}
