"""Files and folders of the user: sweeps, records, signatures, planes."""
