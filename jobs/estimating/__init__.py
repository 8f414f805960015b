"""The estimate, as pure computation: an order and a house in, every figure out. No Django here.

One module a stage, in the order of the data:

    basis       what is known: house rates, recipes, shelf, glass, order lines
    take_off    areas and perimeters of what was ordered
    spoilage    how many panes to start
    loads       which panes lie on the bench together
    volumes     what each step applies to each pane and load
    mixes       what is mixed, in which batches, and for whom
    cutting     panes on stock sheets
    glass       what the glass costs
    labour      minutes and pay
    price       cost, margin, tax, deposit and line prices
    silver      where the silver goes
    rests_on    how far the price can be trusted
    estimate    the stages in order: `estimate(basis)`
    output      the estimate as decimal strings, for JSON

Nothing is rounded but where a rule says so; fractions are exact.
"""
