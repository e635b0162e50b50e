"""Compiled loops of the hazard fit; nothing here checks its input, :mod:`drivekit.life.riskset` has done so.

One risk set is the rows of one stratum at one age, its failures first. Rows with the same covariates and the same case
weight share a *pattern*, so an exponential is taken once a pattern. ``moments`` holds for every pattern 1, the
covariates, and their products in the order (0,0), (1,0), (1,1), (2,0), ...; a set's sums are then one weighted sum of
such lines.

With d failures of mean weight m in a set, total T and failures' total D of ``weight * exp(x b)``, Efron's likelihood is
the sum of x b over the failures less ``m log(T - k/d D)`` for k = 0 ... d - 1; Breslow's takes k = 0 each time
(Efron, J Am Stat Assoc 1977; Therneau and Grambsch, *Modeling Survival Data*, 2000, section 3.3). Failures of weight
zero are not among the d.
"""

import numpy as np

from drivekit.life._loops import add, compiled, height_of, left_at_steps

SETTLED = 0
RUNS_AWAY = 1
UNDETERMINED = 2
ROUNDING = 1e-13
"""A pivot that is no larger a part of its second moment is what rounding left of it."""


@compiled
def likelihood(coef, sets, weight, efron, rate, score, information, raw):  # type: ignore[no-untyped-def]
    """Log partial likelihood; fills ``score``, ``information`` and ``raw``, the second moments about zero.

    ``sets`` is what :attr:`drivekit.life.riskset.RiskSets.folded` gives, ``weight`` that of all rows of a pattern. Sets
    are taken from the oldest age of a stratum to its youngest. A pattern that is in every younger set once it is in one
    joins a running total there (``shared_from``, ``shared``); the others are added to each of their sets (``own_from``,
    ``own``). Nothing is ever taken off a running total, so no digits are lost.
    """
    x, moments, oldest, first, n_failed, member, shared_from, shared, own_from, own, often = sets
    n_terms = x.shape[1]
    width = moments.shape[1]
    running = np.zeros(width)
    total = np.empty(width)
    fallen = np.empty(width)
    left = np.empty(width)
    score[:] = 0.0
    information[:] = 0.0
    raw[:] = 0.0
    loglik = 0.0
    for pattern in range(x.shape[0]):
        if weight[pattern] == 0.0:
            rate[pattern] = 0.0
            continue
        rate[pattern] = weight[pattern] * np.exp(height_of(x[pattern], coef))
    for group in range(first.size - 2, -1, -1):
        if oldest[group]:
            running[:] = 0.0
        for m in range(shared_from[group], shared_from[group + 1]):
            add(running, rate[shared[m]], moments[shared[m]])
        fallen[:] = 0.0
        failures = 0
        failed_weight = 0.0
        for m in range(first[group], first[group] + n_failed[group]):
            pattern = member[m]
            w = weight[pattern]
            if w == 0.0:
                continue
            failures += often[pattern]
            failed_weight += w
            for a in range(n_terms):
                loglik += w * x[pattern, a] * coef[a]
                score[a] += w * x[pattern, a]
            add(fallen, rate[pattern], moments[pattern])
        if failures == 0:
            continue
        for c in range(width):
            total[c] = running[c] + fallen[c]
        for m in range(own_from[group], own_from[group + 1]):
            add(total, rate[own[m]], moments[own[m]])
        steps = failures if efron else 1
        mean_weight = failed_weight / steps
        for k in range(steps):
            share = k / failures
            denominator = total[0] - share * fallen[0]
            loglik -= mean_weight * np.log(denominator)
            inverse = 1.0 / denominator
            for c in range(width):
                left[c] = (total[c] - share * fallen[c]) * inverse
            position = 1 + n_terms
            for a in range(n_terms):
                mean = mean_weight * left[1 + a]
                score[a] -= mean
                for b in range(a + 1):
                    information[a, b] += mean_weight * left[position] - mean * left[1 + b]
                    position += 1
                raw[a] += mean_weight * left[position - 1]
    for a in range(n_terms):
        for b in range(a):
            information[b, a] = information[a, b]
    return loglik


@compiled
def factored(information, held, factor, pivot):  # type: ignore[no-untyped-def]
    """Square-root-free Cholesky factor over the terms not held; false where a pivot is not above 0."""
    n_terms = pivot.size
    for a in range(n_terms):
        pivot[a] = 0.0
        if held[a]:
            continue
        for b in range(a):
            if held[b]:
                continue
            entry = information[a, b]
            for c in range(b):
                if not held[c]:
                    entry -= factor[a, c] * factor[b, c] * pivot[c]
            factor[a, b] = entry / pivot[b]
        rest = information[a, a]
        for c in range(a):
            if not held[c]:
                rest -= factor[a, c] * factor[a, c] * pivot[c]
        pivot[a] = rest
        if not rest > 0.0:
            return False
    return True


@compiled
def solved(score, held, factor, pivot, step):  # type: ignore[no-untyped-def]
    """Fill the step that the factored information times gives the score; 0 for a term that is held."""
    n_terms = score.size
    for a in range(n_terms):
        step[a] = 0.0
        if held[a]:
            continue
        entry = score[a]
        for c in range(a):
            if not held[c]:
                entry -= factor[a, c] * step[c]
        step[a] = entry
    for a in range(n_terms - 1, -1, -1):
        if held[a]:
            continue
        entry = step[a] / pivot[a]
        for c in range(a + 1, n_terms):
            if not held[c]:
                entry -= factor[c, a] * step[c]
        step[a] = entry


@compiled
def step_of(information, score, held, factor, pivot, step):  # type: ignore[no-untyped-def]
    """Newton step over the terms not held; false where a pivot of the information is not above 0."""
    sound = factored(information, held, factor, pivot)
    if sound:
        solved(score, held, factor, pivot, step)
    return sound


@compiled
def maximise(coef, held, sets, weight, efron, near, score, information):  # type: ignore[no-untyped-def]
    """Newton steps, halved while the likelihood falls, until none moves a coefficient by more than ``near``.

    Starts at ``coef`` and leaves the maximum there, score and information as they were one last step before. A term
    that is flat from the start is UNDETERMINED. RUNS_AWAY means that some direction's information fell below 1e-8 of
    what it was at the start, or 60 steps did not settle: along a direction without end the step stays near one
    failure's worth while the information falls by a factor each time.
    """
    n_terms = coef.size
    rate = np.empty(weight.size)
    raw = np.empty(n_terms)
    factor = np.zeros((n_terms, n_terms))
    pivot = np.empty(n_terms)
    at_start = np.empty(n_terms)
    step = np.empty(n_terms)
    tried = np.empty(n_terms)
    loglik = likelihood(coef, sets, weight, efron, rate, score, information, raw)
    for turn in range(60):
        sound = step_of(information, score, held, factor, pivot, step)
        if turn == 0:
            for a in range(n_terms):
                if not held[a] and not pivot[a] > ROUNDING * raw[a]:
                    return UNDETERMINED, loglik
                at_start[a] = pivot[a]
        if not sound:
            return RUNS_AWAY, loglik
        settled = True
        for a in range(n_terms):
            if held[a]:
                continue
            if pivot[a] < 1e-8 * at_start[a]:
                return RUNS_AWAY, loglik
            # by itself, and for a term in fine units (newtons) also in its standard errors
            if abs(step[a]) * max(1.0, np.sqrt(information[a, a])) > near:
                settled = False
        length = 1.0
        for _ in range(40):
            for a in range(n_terms):
                tried[a] = coef[a] + length * step[a]
            if settled:
                break
            after = likelihood(tried, sets, weight, efron, rate, score, information, raw)
            if after >= loglik - 1e-11 * (1.0 + abs(loglik)):
                break
            length *= 0.5
        coef[:] = tried
        if settled:  # so short a last step changes the likelihood by less than its rounding
            return SETTLED, loglik
        loglik = after
    return RUNS_AWAY, loglik


@compiled
def reach(coef, x, weight):  # type: ignore[no-untyped-def]
    """Difference between the largest and the smallest height of a pattern with weight."""
    low, high = np.inf, -np.inf
    for pattern in range(x.shape[0]):
        if weight[pattern] == 0.0:
            continue
        height = height_of(x[pattern], coef)
        low, high = min(low, height), max(high, height)
    return high - low


@compiled
def maximise_each(coef, loglik, status, begin, unit, weights, sets, efron, near):  # type: ignore[no-untyped-def]
    """Fit every line of ``weights``, each from its line of ``begin`` where there is one; ``unit`` weighs the patterns.

    What settles from elsewhere is kept only where no two rows' heights differ by more than 18: no pivot is then below
    exp(-18) of what it was at zero, so that from zero, too, it would have settled. All else is fitted from zero.
    """
    x, n_terms = sets[0], coef.shape[1]
    held = np.zeros(n_terms, np.bool_)
    score = np.empty(n_terms)
    information = np.empty((n_terms, n_terms))
    weight = np.empty(x.shape[0])
    for line in range(weights.shape[0]):
        for pattern in range(x.shape[0]):
            weight[pattern] = weights[line, unit[pattern]]
        for attempt in range(0 if begin.shape[0] else 1, 2):
            for a in range(n_terms):
                coef[line, a] = 0.0 if attempt else begin[line, a]
            status[line], loglik[line] = maximise(coef[line], held, sets, weight, efron, near, score, information)
            if attempt == 0 and status[line] == SETTLED and reach(coef[line], x, weight) <= 18.0:
                break


@compiled
def penalised(coef, x, lines, sets, often, efron, ridge, score, information, room):  # type: ignore[no-untyped-def]
    """Log likelihood under Jeffreys' penalty and a ridge; fills its score and the plain information with the ridge.

    ``lines`` are the moments of the patterns, ``room`` is three matrices to work in. Minus infinity where the
    information is not positive, or no more than the rounding of the second moments. With V its inverse, and m and C
    the first and second moments about zero of what is left at a step, the penalty's score is the sum over steps of half
    the third central moment of z with (z - m)' V (z - m): ``E[z z'Vz] - m tr(VC) - 2 CVm + 2 m m'Vm``.
    """
    p, failures, loglik = coef.size, 0, 0.0
    score[:], information[:] = 0.0, 0.0
    factor, inverse, rest = room[0], room[1], room[2]
    unit, pivot, raw, free = rest[0], rest[1], rest[2], np.zeros(p, np.bool_)
    raw[:] = 0.0
    height, rate = x @ coef, np.zeros(x.shape[0])
    top = -np.inf
    for pattern in range(x.shape[0]):
        if often[pattern] > 0:
            top = max(top, height[pattern])
    for pattern in range(x.shape[0]):
        height[pattern] -= top
        if often[pattern] > 0:
            rate[pattern] = often[pattern] * np.exp(height[pattern])
    first, n_failed, member = sets[1], sets[2], sets[3]
    for group in range(first.size - 1):
        for m in range(first[group], first[group] + n_failed[group]):
            pattern = member[m]
            failures += often[pattern]
            loglik += often[pattern] * height[pattern]
            for a in range(p):
                score[a] += often[pattern] * x[pattern, a]
    left, bent = np.empty((failures, lines.shape[1])), np.empty((failures, 1 + p))
    left_at_steps(rate, lines, sets, often, efron, left)
    for step in range(failures):
        loglik -= np.log(left[step, 0])
        second = 1 + p
        for a in range(p):
            score[a] -= left[step, 1 + a]
            for b in range(a + 1):
                information[a, b] += left[step, second] - left[step, 1 + a] * left[step, 1 + b]
                second += 1
            raw[a] += left[step, second - 1]
    for a in range(p):
        for b in range(a):
            information[b, a] = information[a, b]
        loglik -= ridge[a] * coef[a] ** 2 / 2
        score[a] -= ridge[a] * coef[a]
        information[a, a] += ridge[a]
    if not np.isfinite(loglik) or not factored(information, free, factor, pivot):
        return -np.inf
    for a in range(p):
        if not pivot[a] > ROUNDING * raw[a]:
            return -np.inf
        unit[:] = 0.0
        unit[a] = 1.0
        solved(unit, free, factor, pivot, inverse[a])
        loglik += np.log(pivot[a]) / 2
    pulled = np.ones((x.shape[0], 1 + p))
    for pattern in range(x.shape[0]):
        square = 0.0
        for a in range(p):
            for b in range(p):
                square += x[pattern, a] * inverse[a, b] * x[pattern, b]
        for a in range(p):
            pulled[pattern, 1 + a] = x[pattern, a] * square
    left_at_steps(rate, pulled, sets, often, efron, bent)
    turned, crossed = np.empty(p), np.empty(p)
    for step in range(failures):
        along = 0.0
        for a in range(p):
            turned[a] = crossed[a] = 0.0
            for b in range(p):
                turned[a] += inverse[a, b] * left[step, 1 + b]
            along += 2.0 * left[step, 1 + a] * turned[a]
        second = 1 + p
        for a in range(p):
            for b in range(a + 1):
                product = left[step, second]
                along -= (1.0 if a == b else 2.0) * inverse[a, b] * product
                crossed[a] += product * turned[b]
                if a != b:
                    crossed[b] += product * turned[a]
                second += 1
        for a in range(p):
            score[a] += (bent[step, 1 + a] + left[step, 1 + a] * along) / 2 - crossed[a]
    return loglik


@compiled
def climb(at, held, x, lines, sets, often, efron, ridge, near, score, information):  # type: ignore[no-untyped-def]
    """Climb to the maximum of `penalised` from ``at``, which is left there, as :mod:`drivekit.life.firth` has it.

    Likelihood, score and information are left as they were one last step before.
    """
    p = at.size
    room = np.empty((3, max(p, 3), p))
    curve, factor, pivot = np.empty((p, p)), np.zeros((p, p)), np.empty(p)
    step, tried, other = np.empty(p), np.empty(p), np.empty(p)
    ahead, behind, left = np.empty(p), np.empty(p), np.empty((p, p))
    loglik = penalised(at, x, lines, sets, often, efron, ridge, score, information, room)
    if held.all():
        return True, loglik
    last = np.inf
    for _ in range(200):
        if not np.isfinite(loglik) or not step_of(information, score, held, factor, pivot, step):
            return False, loglik
        # where little is asked, steps by the plain information are enough as long as they shorten
        if np.abs(step).max() > (0.1 if near < 1e-6 else 0.7) * last:
            for term in range(p):
                width = 1e-5 * min(1.0, 1 / np.sqrt(information[term, term]))
                tried[:] = at
                tried[term] = at[term] + width
                penalised(tried, x, lines, sets, often, efron, ridge, ahead, left, room)
                tried[term] = at[term] - width
                penalised(tried, x, lines, sets, often, efron, ridge, behind, left, room)
                curve[:, term] = (behind - ahead) / (2 * width)
            if step_of((curve + curve.T) / 2, score, held, factor, pivot, other) and np.isfinite(other).all():
                step[:] = other
        last = np.abs(step).max()
        settled = True
        for a in range(p):
            # so put that what is no number has not settled
            if not held[a] and not abs(step[a]) * max(1.0, np.sqrt(information[a, a])) <= near:
                settled = False
        if settled:  # so short a last step changes the likelihood by next to nothing
            at[:] += step
            return True, loglik
        length, after = 1.0, loglik
        for _ in range(60):
            tried[:] = at + length * step
            after = penalised(tried, x, lines, sets, often, efron, ridge, ahead, left, room)
            if after >= loglik - 1e-12 * (1 + abs(loglik)):
                break
            length /= 2
        at[:], score[:], information[:], loglik = tried, ahead, left, after
    return False, loglik


@compiled
def climb_each(  # type: ignore[no-untyped-def]
    at, settled, begin, held, x, lines, sets, unit, weights, efron, ridge, near
):
    """Climb for every line of ``weights``, from its line of ``at``; ``unit`` weighs the patterns.

    Where that does not settle, or where two rows' heights differ by more than 18, so that a flat end may have been
    taken for a top, it begins once more from ``begin``.
    """
    p, often = at.shape[1], np.empty(x.shape[0], np.int64)
    score, information = np.empty(p), np.empty((p, p))
    for line in range(weights.shape[0]):
        for pattern in range(x.shape[0]):
            often[pattern] = weights[line, unit[pattern]]
        settled[line], _ = climb(at[line], held, x, lines, sets, often, efron, ridge, near, score, information)
        if not settled[line] or reach(at[line], x, often) > 18.0:
            at[line] = begin
            settled[line], _ = climb(at[line], held, x, lines, sets, often, efron, ridge, near, score, information)
