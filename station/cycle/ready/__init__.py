"""What is looked at before a unit is tested: the station check, clock and disk, temperature."""
