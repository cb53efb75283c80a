"""The pages of the desk, one module for each, with its ``ROUTES``."""
