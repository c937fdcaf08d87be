"""An analyzer on a port: its profile, its sweeps, and a stream that survives unplugging."""
