"""From readings to a verdict, its causes and the next step."""
