"""Who may do what, and which limit files may judge: people, trusted keys, releases."""
