"""The page: its layout, dialogs, panels, actions and scripts."""
