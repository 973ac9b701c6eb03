"""Quantities and readings in the words of a sentence."""
