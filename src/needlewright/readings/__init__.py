"""From a photo to needle angles with their uncertainty, or a refusal with its reason."""
