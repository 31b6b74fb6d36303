//! Numbers that turn a unit of the kernel into another (the kernel counts in mm, N, kg, and what people read is in more), and
//! what a mass weighs.

/// kg/mm³ in a density of 1 kg/m³.
pub(crate) const KG_PER_MM3: f64 = 1.0e-9;
/// mm in a metre.
pub(crate) const MM_PER_M: f64 = 1000.0;
/// mm² in a square metre.
pub(crate) const MM2_PER_M2: f64 = 1.0e6;
/// mm³ in a litre.
pub(crate) const MM3_PER_LITRE: f64 = 1.0e6;
/// N·mm in a kN·m.
pub(crate) const NMM_PER_KNM: f64 = 1.0e6;

/// Standard acceleration of free fall, m/s² (CGPM 1901, ISO 80000-3): what the weight of a mass is counted with.
pub const STANDARD_GRAVITY: f64 = 9.806_65;
