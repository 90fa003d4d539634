"""Every drawing and document; handed data, imports no stage."""
