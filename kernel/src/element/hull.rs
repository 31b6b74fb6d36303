//! Solids from the convex hull of points.
