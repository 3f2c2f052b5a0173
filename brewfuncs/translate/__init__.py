"""The kernels in other languages, made from the one declaration: worksheet names (LAMBDA) and JavaScript."""
