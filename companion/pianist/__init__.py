"""The built-in pianist: their lines, pulse, route through the form, slips and touch."""
