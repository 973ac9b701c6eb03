"""Statistics of production: capability, control charts, run rules, risks."""
