"""Open, short and load: their models, and the kits that name them."""
