"""All that a person looks at: screens, JSON and their words."""
