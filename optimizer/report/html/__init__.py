"""A saved dossier as one HTML page that needs nothing else: no network, no scripts."""
