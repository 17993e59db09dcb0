"""Paper: records and reports as PDF, tagged for screen readers.

sheet      what a paper is made of: rows with a margin, words, tables, checks, drawings
drawings   drawings of the pages made to stand alone, in the colours of paper
typeset    a sheet as PDF, set by a short-lived process of its own
facts      what the store tells of a cartridge or of a span
handover   the record of a fitting: every check, settings, signatures
change     the record of a cartridge change
period     the report of a month or a year
evidence   everything known of one cartridge, for a warranty question
"""
