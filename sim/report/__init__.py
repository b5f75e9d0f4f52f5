"""Results shown: charts, page, tables, terminal."""
