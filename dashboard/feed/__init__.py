"""A snapshot as the page receives it: frames, sentences, one viewer's feed."""
