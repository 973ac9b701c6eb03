"""Sweeps, spectra, transfer functions, bands and levels: what every reading starts from."""
