"""How well a reading repeats: between photos, between people or cameras, between views."""
