//! Works built through scripts have the same figures as through the kernel.

mod reference_scripts;
