//! Reading back: what a DXF or SVG file holds.
