"""The estimate as pure computation: an order and the studio's rates in, every figure out; no Django may enter.

One module a stage, in the order of the data:

    basis       every input: studio rates, recipes, materials, glass, order lines
    take_off    areas and perimeters of what was ordered
    spoilage    how many panes to start
    loads       which panes lie on the bench together
    volumes     what each step applies to each pane and load
    mixes       what is mixed, in which batches, for which panes
    cutting     panes on stock sheets
    glass       what the glass costs
    labour      minutes and pay
    price       cost, margin, tax, deposit and line prices
    silver      where the silver goes
    price_contents  what is in the price, and how it changes
    estimate    the stages in order: `estimate_basis(basis)`
    output      the estimate as decimal strings, for JSON

Nothing is rounded but where a rule says so; fractions are exact.
"""
