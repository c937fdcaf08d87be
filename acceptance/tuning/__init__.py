"""Which way to trim and by how much: dips, what dimensions do, advice, the touch test."""
