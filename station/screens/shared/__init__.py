"""What the screens share: colours, words, forms, plots."""
