"""Stiffness of a line-boring bar, from a case file to its findings.

Which module feeds which::

    units, entry -> material, bar, support, work, cut, lathe, limits -> case -> casefile
    section, hole_calibration -> timoshenko, beam | mesh, solid -> model
    force, statics, modes, whirl -> speeds -> judge -> run
    swap, record -> draw, charts, pictures
    verification: the published checks
"""
