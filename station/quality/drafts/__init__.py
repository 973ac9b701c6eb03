"""Limit files under a person's hand: some limits changed, all else as it was written."""
