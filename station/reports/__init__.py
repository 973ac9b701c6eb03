"""Pages for paper and browser: what leaves the station in somebody's hand."""
