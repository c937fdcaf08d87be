"""Which frequencies are swept: spans, what an analyzer can sweep, and the passes over them."""
