"""What describes a station: its station file, table by table, and its microphone's correction."""
