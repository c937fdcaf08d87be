"""Who may see and do what: tokens, roles, sharing, security headers."""
