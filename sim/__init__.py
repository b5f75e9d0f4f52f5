"""Nightledger: the energy ledger of every night of a trip."""

__version__ = "0.1.0"
