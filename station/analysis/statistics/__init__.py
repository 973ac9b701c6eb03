"""Uncertainties of single values, and populations of whole curves."""
