//! The trim against figures from outside it, closed forms, and what must always hold.

mod anchored;
mod closed_forms;
mod closure;
mod degenerate;
mod forecast;
mod found;
mod for_sheets;
mod hundred_thousand;
mod invariance;
mod liquid;
mod maquette;
mod match_marks;
mod plates;
mod reference_bodies;
mod spine;
mod standing;
mod surveyed;
mod surface;
mod swaying;
mod wrap;
mod survey;
mod thickness;
mod unsettled;
mod water;
mod welds;
