"""Which fault is it? From what is seen to the next check, and on from its outcome."""

from glowtrace import Settings, prepare, ready_made
from glowtrace.faults import Seen, Sighting, next_checks, prepare_suspects, rank, update

bulb = prepare(ready_made("fine-beam bulb"))
shown = Settings(accelerating_voltage=210.0, coil_current=1.6)  # V, A: what the meters say
answers = {
    "coil meter": "coil meter shows what is set",
    "accelerating voltage": "line does not move",
}

suspects = prepare_suspects(bulb, shown, draws=12)
ranking = rank(suspects, Sighting(seen=(Seen.COILS_STRAIGHT,)))
while True:
    for row in ranking.standings[:2]:
        print(f"{100 * row.probability:3.0f} %  {row.fault.title}")
    advice = next_checks(ranking)[0]
    if advice.check.key not in answers:
        break
    print(f"{advice.check.do}  ({advice.information:.1f} bit)")
    for prospect in advice.prospects:
        print(f"  {prospect.outcome}: {prospect.meaning}")
    outcome = answers[advice.check.key]
    print(f"Seen: {outcome}")
    ranking = update(ranking, advice.check.key, outcome)

print(ranking.first.fault.remedy)
