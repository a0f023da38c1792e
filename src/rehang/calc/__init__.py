"""Numbers in, numbers out: the calculations, in SI units, on numpy and scipy only.

Nothing in here reads a file, a clock or a random number, and nothing in here knows the
trade's words. What holds for all of them, and is not said again:

- The signature says what each argument and each result is in, by the types of
  `rehang.calc.units`. Arrays of any shapes that broadcast are taken, and an array comes back;
  single numbers give a single number.
- ``u_x`` is the standard uncertainty of ``x``, in its unit. Inputs do not depend on each other
  unless it is said, and an uncertainty is of first order.
- What is not a finite number, is below 0 where nothing can be, or does not fit the rest is
  refused with `OutOfRange`, in a sentence that says what was given. ``Refused`` in a docstring
  names what goes beyond that.
- A docstring says of an argument only what its name, its unit and the head of its module do
  not. ``Source`` is document, edition, clause and equation; below it stands where the numbers
  are checked, or why no printed value is there to check them against.
- Several numbers come back as one frozen value. Its ``notes`` say where the answer is weak.
"""
