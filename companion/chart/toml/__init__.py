"""Our own chart: a TOML file written by a person with a text editor.

::

    format = 1
    title = "..."
    key = "C minor"
    metre = "4/4"
    tempo = 132            # quarters a minute
    feel = "swing"
    form = "A A B A"

    order = [              # the order of events; may be left out
      { play = "introduction", how = "vamp", bars = 4 },
      { play = "head" },
      { play = "solos", choruses = 2, treatment = "walking" },
      { play = "head" },
      { play = "ending", how = "tag" },
    ]

    [section.A]
    treatment = "walking"
    chords = '''
        | Cm7       | Dm7b5  G7 | Cm7       | %         |
    '''
    melody = '''
    z G | c2 z2 e2  | d3 c B2 z2 | G8-      | G4 z4     |
    '''

Chords are read as :mod:`companion.chart.toml.chords` says, the melody as :mod:`companion.chart.toml.melody` says; what
stands before the melody's first bar line is the section's pickup. A plain note lasts what ABC 2.1 (section 3.1.7) says:
an eighth, in metres shorter than three quarters a sixteenth; ``unit = "1/4"`` changes it.
``bar_metres = { 5 = "2/4" }`` in a section gives a bar a metre of its own. Bar lines stand under bar lines.

An arrangement that is written note for note stands below the sections, one ``[[arrangement]]`` for each place of the
form; :mod:`companion.chart.toml.arrangement` describes it.

Conventions: everything is read strictly (a misspelt key is an error that names the nearest one); what is written
reads back equal. Comments and layout of a file survive :func:`~companion.chart.toml.update.update_toml` wherever
nothing has changed. A file of a newer format is neither read nor written over.
"""
