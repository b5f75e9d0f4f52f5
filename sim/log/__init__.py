"""What a battery monitor wrote down: its columns, units, signs and clock."""
