//! Works built through scripts have the same figures as through the kernel.

mod part_areas;
mod reference_scripts;
