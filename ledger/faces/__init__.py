"""Faces: what people and programs touch."""
