"""Pictures of sweeps, impedances, batches and cables as SVG."""
