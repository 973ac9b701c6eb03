"""What stored runs tell when they are looked at again."""
