//! Curvature methods against exact geometry and published definitions.
