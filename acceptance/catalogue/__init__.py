"""The catalogue of records, in any database."""
