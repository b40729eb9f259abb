mod curvature;
mod geometry;
