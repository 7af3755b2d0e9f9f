"""Labels leave through a printer of the workshop, by the Internet Printing Protocol (RFC 8010, RFC 8011).

``ipp`` writes and reads the messages, ``address`` carries them by HTTP, ``state`` puts a printer's words in plain ones,
``raster`` makes pages for printers that take no PDF, and ``send`` is what a label needs of all that.
"""
