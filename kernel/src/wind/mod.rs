//! Wind: peak velocity pressure, silhouettes, overturning and sliding.

pub mod gust;
pub mod load;
pub mod pressure;

pub use gust::{Gust, gust};
pub use load::{Push, Way, Wind};
pub use pressure::{STAGE, Site, Terrain, WIND_ROWS};
