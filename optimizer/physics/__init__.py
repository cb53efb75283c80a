"""The laws of flow: pure functions of numbers and arrays that know nothing of catalogs or loops."""
