"""The wiring sheet: circuits, cables, fuses and limits."""
