"""From a reading to the verdict on a plan, band by band."""
