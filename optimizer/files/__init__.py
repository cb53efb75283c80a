"""Files in and out: rigs (TOML), catalogs (CSV), bills (CSV), and the reference of all columns and keys."""
