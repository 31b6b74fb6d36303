//! Section properties: area and inertia of one pitch and per metre of width.
