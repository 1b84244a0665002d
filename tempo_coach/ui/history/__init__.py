"""The history screen: takes filtered, opened, set side by side."""
