#!/bin/sh
# The tour: an invented club takes its catalogue in, proves it clean, mends it, sets a contest's tasks and hands
# them out. Everything is written below demo/out, which each run makes anew; nothing outside the checkout is touched
# but for the virtual environment .venv beside this folder, which is made where it is missing.
#
#   sh demo/run.sh            needs Python 3.11 or newer; PYTHON=python3.12 chooses one
set -eu

cd "$(dirname "$0")/.."
out=demo/out
python=${PYTHON:-python3}

# -- the tool ---------------------------------------------------------------------------------------------------------

prepare() {
    if [ -x .venv/bin/taskdb ] && .venv/bin/taskdb --version >/dev/null 2>&1; then
        return
    fi
    if ! "$python" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
        echo "This needs Python 3.11 or newer; name one with PYTHON=python3.12 sh demo/run.sh" >&2
        exit 1
    fi
    echo "Installing taskdb into .venv ..."
    [ -x .venv/bin/python ] || "$python" -m venv .venv
    .venv/bin/python -m pip install --quiet --disable-pip-version-check --editable .
}

# -- how it is told ---------------------------------------------------------------------------------------------------

number=0
step() {
    number=$((number + 1))
    printf '\n%s\n%s. %s\n\n' "----------------------------------------------------------------------" "$number" "$1"
}

# Print a command as one would type it: words with anything unusual in them stand in quotes.
show() {
    printf '  $ taskdb'
    for word in "$@"; do
        case $word in
        *[!A-Za-z0-9_.,:@/=+-]* | '') printf ' "%s"' "$word" ;;
        *) printf ' %s' "$word" ;;
        esac
    done
    printf '\n'
}

# Run a command and show the first line of what it says.
run_briefly() {
    run "$@" >"$out/shown.txt"
    head -n 2 "$out/shown.txt"
    echo
}

# Run a command and show what it says. Exit 1 means "done, and there is something to act on": it does not stop the tour.
run() {
    show "$@"
    code=0
    .venv/bin/taskdb "$@" >"$out/said.txt" 2>&1 || code=$?
    sed 's/^/    /' "$out/said.txt"
    echo
    if [ "$code" -gt 1 ]; then
        echo "taskdb ended with exit code $code; the tour stops here." >&2
        exit "$code"
    fi
}

# -- the tour ---------------------------------------------------------------------------------------------------------

prepare
rm -rf "$out"
mkdir -p "$out"
# The environment of whoever runs this must not lead the tour to another store.
unset TASKDB_CONTEST || true
TASKDB_STORE=$out/ormsau.db
TASKDB_AUTHOR="Librarian"
COLUMNS=110
NO_COLOR=1
export TASKDB_STORE TASKDB_AUTHOR COLUMNS NO_COLOR
contest="Varnpokal 2027"

step "The club's catalogue comes in, as three people have kept it"
run set import demo/region.csv --into region --note "the club's list, as it was"

step "Is it clean? (demo/faults.md tells which faults were planted)"
run check run region --against demo/federation.csv --fail-on warning

step "The librarian mends what was found; the catalogue moves on to revision 3, and revision 1 stays readable"
run set import demo/mends.csv --into region --note "mended after the check"
run check merge region 278 280 --note "one silo under two names"
run set log region
run check run region --against demo/federation.csv --fail-on warning

step "A contest with zone defaults of its own, standing on region@3"
run contest new "$contest" --set region@3 --site 001 --from 2027-05-14 --to 2027-05-22 --timezone Europe/Berlin \
    --start "line 5km" --turn "cylinder 500m" --area "area 20km" --finish "cylinder 3km"

step "Day 1: a racing task, and a shorter variant in case the cumulus come late"
run task new "Day 1 A" 043 232 010 001 --contest "$contest" --type racing --day 1 --variant A --time 2:30
run_briefly task copy "Day 1 A" "Day 1 B" --contest "$contest"
run task edit "Day 1 B" --contest "$contest" --variant B --point 1=003 --point 2=004 --time 2:00
run task compare "Day 1 A" "Day 1 B" --contest "$contest"

step "Day 2: an assigned-area task with two own zones, and a variant with three plain areas of 15 km"
run task new "Day 2 A" 045 232 "area 10km..25km 180..300" 004 236 "area 25km" 001 \
    --contest "$contest" --type assigned-area --day 2 --variant A --time 3:00
run_briefly task copy "Day 2 A" "Day 2 B" --contest "$contest"
run task edit "Day 2 B" --contest "$contest" --variant B --zone areas="area 15km" --time 2:30
run task compare "Day 2 A" "Day 2 B" --contest "$contest"

step "Airspace, from an invented file and drawn by hand: pinned by the contest, and asked by every review"
run airspace import demo/airspace.geojson --into varn-air
run airspace add varn-air "Northern woods" --through 043 003 010 --ceiling "4500ft MSL"
run contest limits "$contest" --working-altitude "1800m MSL"
run contest edit "$contest" --airspace varn-air
run task review "Day 1 A" --contest "$contest"

step "All of it as files, with a manifest that can be verified, and the sheet that brings the zones"
run export task --contest "$contest" --format gpx,kml,geojson,csv,igc --to "$out/files"
run export set region@3 --format csv,gpx,kml,geojson --to "$out/set"
run export verify "$out/files"
run sheet --contest "$contest" --to "$out/sheet.html"

step "A morning, day 3: what does the set offer, how large are the areas to be, which fields are in reach, which task is it?"
run_briefly contest classes "$contest" --class Club=65km/h..95km/h
run_briefly contest limits "$contest" --qnh 1018hPa --cover-glide 25 --speed 80km/h
run_briefly contest day "$contest" 3 --date 2027-05-16 --start-opens 13:00 --wind 250/12kt
run task propose --from 001 --shape triangle --distance 180km..240km --contest "$contest" --day 3 --class Club \
    --avoid "varn-air:Linde range" --heading 150..330 --ignore-terrain --limit 4 --save "Day 3" --to "$out/proposals.html"
run_briefly task edit "Day 3 1" --contest "$contest" --type assigned-area --time 2:30
run task fit "Day 3 1" --contest "$contest" --save B
run task cover "Day 3 1 B" --contest "$contest" --ignore-terrain --to "$out/cover.svg"
run task compare "Day 3 1 B" "Day 3 1" --contest "$contest"
run_briefly task choose "Day 3 1 B" --contest "$contest"
run handout --contest "$contest" --day 3 --to "$out/day-3"

rm -f "$out/said.txt" "$out/shown.txt"
cat <<END
----------------------------------------------------------------------
Everything lies in $out:

  sheet.html    the task sheet, a page a task: open it, or print it
  files/        the four tasks as GPX, KML, GeoJSON, CSV and IGC declaration, with MANIFEST.json
  set/          the mended catalogue
  proposals.html, cover.svg, day-3/   the morning of day 3: maps of what the set offers, fields in reach, the hand-out
  ormsau.db     the store; look around in it, for instance with

      export TASKDB_STORE=$out/ormsau.db
      .venv/bin/taskdb task show "Day 1 A"
      .venv/bin/taskdb set diff region@1 region@3
      .venv/bin/taskdb waypoint find quarn

All of it is invented: not for navigation, not for flight.
END
