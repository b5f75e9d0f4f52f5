"""The customer's job: its model, how its file is read, the rules it must keep, the shelf."""
