"""Damaged and odd workbooks by the thousand: each is answered in a sentence or annotated without loss."""
