"""The kinds of appliance: what each draws, step by step, and the table of all of them."""
