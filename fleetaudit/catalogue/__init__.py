"""Figures of media, vessels, restrictors and housings, each with its source, and the settings of an audit."""
