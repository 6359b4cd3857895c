# Completion of quarterturn's command line for fish.
# Installed as share/fish/vendor_completions.d/quarterturn.fish.

set -l commands listen replay debrief rehearse inspect discover tell brief sounds
set -l levels 'full sparse warnings fading summary'
set -l verbs status mute unmute help-level maneuver aircraft mark again \
    new-attempt reload record stop
set -l none "not __fish_seen_subcommand_from $commands"
set -l listen '__fish_seen_subcommand_from listen'
set -l replay '__fish_seen_subcommand_from replay'
set -l debrief '__fish_seen_subcommand_from debrief'
set -l rehearse '__fish_seen_subcommand_from rehearse'
set -l inspect '__fish_seen_subcommand_from inspect'
set -l discover '__fish_seen_subcommand_from discover'
set -l tell '__fish_seen_subcommand_from tell'
set -l brief '__fish_seen_subcommand_from brief'
set -l sounds '__fish_seen_subcommand_from sounds'

complete -c quarterturn -n "$none" -f -a "$commands"
complete -c quarterturn -l config -r -d 'configuration to read'
complete -c quarterturn -l layout -r -d 'what the packets look like'
complete -c quarterturn -l aircraft -r -d 'the airplane'
complete -c quarterturn -l standard -r -d 'what an attempt is judged by'
complete -c quarterturn -l maneuver -x -a chandelle -d 'what is flown'
complete -c quarterturn -l events -r -d 'event lines'
complete -c quarterturn -l quiet -d 'captions of calls only'
complete -c quarterturn -l verbose -d 'more on standard error'
complete -c quarterturn -l version -d 'print the version'
complete -c quarterturn -l help -d 'print the help'

complete -c quarterturn -n "$listen" -l address -x -d 'address to listen on'
complete -c quarterturn -n "$listen" -l port -x -d 'port to listen on'
complete -c quarterturn -n "$listen" -l record -r -d 'write every packet there'
complete -c quarterturn -n "$listen" -l force -d 'replace the recording'
complete -c quarterturn -n "$listen" -l wav -r -d 'write what is heard there'
complete -c quarterturn -n "$listen" -l seconds -x -d 'stop after so long'
complete -c quarterturn -n "$listen" -l control -r -d 'socket for tell'
complete -c quarterturn -n "$listen" -l logbook -d 'each attempt into it'
complete -c quarterturn -n "$listen" -l no-sound -d 'captions only'
complete -c quarterturn -n "$listen" -l help-level -x -a "$levels" \
    -d 'how much is said'
complete -c quarterturn -n "$listen" -l pages -r -d 'a page of each attempt'
complete -c quarterturn -n "$listen" -l person -x -d 'who flies'

complete -c quarterturn -n "$debrief" -l page -r -d 'a page of the attempt, or of the progress'
complete -c quarterturn -n "$debrief" -l pages -r -d 'a page of each attempt'
complete -c quarterturn -n "$debrief" -l json -r -d 'each attempt as JSON'
complete -c quarterturn -n "$debrief" -l csv -r -d 'the series of an attempt'
complete -c quarterturn -n "$debrief" -l attempt -x -d 'this one only'
complete -c quarterturn -n "$debrief" -l logbook -d 'into it, or its progress'
complete -c quarterturn -n "$debrief" -l person -x -d 'who flew'
complete -c quarterturn -n "$debrief" -l port -x -d 'the stream to this port'
complete -c quarterturn -n "$listen; or $replay; or $debrief" -l pages -r \
    -a '(__fish_complete_directories)' -d 'a page about each attempt'
complete -c quarterturn -n "$replay" -l speed -x -a '0.5 1 2 8 max' \
    -d 'times real time'
complete -c quarterturn -n "$replay" -l pages -r -d 'a page of each attempt'
complete -c quarterturn -n "$replay" -l wav -r -d 'write what is heard there'
complete -c quarterturn -n "$replay" -l port -x -d 'the stream to this port'
complete -c quarterturn -n "$replay" -l no-sound -d 'captions only'
complete -c quarterturn -n "$replay" -l help-level -x -a "$levels" \
    -d 'how much is said'
complete -c quarterturn -n "$replay" -l person -x -d 'who flies'

set -l errors bank-shallow bank-steep bank-growing pitch-early pitch-late \
    pitch-high pitch-low pitch-sag roll-out-early roll-out-late \
    roll-out-uneven level-short level-past ball-out stall sink abandon
complete -c quarterturn -n "$rehearse" -l direction -x -a 'left right' \
    -d 'which way it turns'
complete -c quarterturn -n "$rehearse" -l error -x -a "$errors" \
    -d 'make an error'
complete -c quarterturn -n "$rehearse" -l list \
    -d 'explain the errors'
complete -c quarterturn -n "$rehearse" -l unsteady -x \
    -d 'hand, 0 to 3'
complete -c quarterturn -n "$rehearse" -l turbulence -x -a 'none light moderate' \
    -d 'rough air'
complete -c quarterturn -n "$rehearse" -l wind -x \
    -d 'DEG/KT it blows from'
complete -c quarterturn -n "$rehearse" -l weight -x \
    -d 'of the airplane'
complete -c quarterturn -n "$rehearse" -l altitude -x \
    -d 'of the entry'
complete -c quarterturn -n "$rehearse" -l temperature -x \
    -d 'there'
complete -c quarterturn -n "$rehearse" -l ground -x \
    -d 'its altitude'
complete -c quarterturn -n "$rehearse" -l heading -x \
    -d 'of the entry'
complete -c quarterturn -n "$rehearse" -l seed -x \
    -d 'of hand and air'
complete -c quarterturn -n "$rehearse" -l rate -x \
    -d 'packets a second'
complete -c quarterturn -n "$rehearse" -l speed -x -a '0.5 1 2 8 max' \
    -d 'times real time'
complete -c quarterturn -n "$rehearse" -l address -x \
    -d 'send there'
complete -c quarterturn -n "$rehearse" -l port -x \
    -d 'send there'
complete -c quarterturn -n "$rehearse" -l record -r \
    -d 'into a recording'
complete -c quarterturn -n "$rehearse" -l truth -r \
    -d 'write what was flown'
complete -c quarterturn -n "$rehearse" -l force \
    -d 'replace the files'
complete -c quarterturn -n "$rehearse" -l hold-at -x \
    -d 'stop there'

complete -c quarterturn -n "$inspect" -l address -x -d 'address to listen on'
complete -c quarterturn -n "$inspect" -l port -x -d 'port'
complete -c quarterturn -n "$inspect" -l seconds -x -d 'for so long'
complete -c quarterturn -n "$inspect" -l json -d 'as one JSON object'
complete -c quarterturn -n "$inspect" -l check -d 'check the configuration'

complete -c quarterturn -n "$discover" -l output -r -d 'write the layout there'
complete -c quarterturn -n "$discover" -l force -d 'replace the file'
complete -c quarterturn -n "$discover" -l address -x -d 'address to listen on'
complete -c quarterturn -n "$discover" -l port -x -d 'port'
complete -c quarterturn -n "$discover" -l seconds -x -d 'for so long'
complete -c quarterturn -n "$discover" -l no-sound -d 'ask by captions only'

complete -c quarterturn -n "$tell" -l control -r -d 'socket of the daemon'
complete -c quarterturn -n "$tell" -l json -d 'the answer as it came'
complete -c quarterturn -f \
    -n "$tell; and not __fish_seen_subcommand_from $verbs" -a "$verbs"
complete -c quarterturn -f \
    -n "$tell; and __fish_seen_subcommand_from help-level" -a "$levels"
complete -c quarterturn -f \
    -n "$tell; and __fish_seen_subcommand_from record" -a 'on off'
complete -c quarterturn -f \
    -n "$tell; and __fish_seen_subcommand_from maneuver" -a chandelle

complete -c quarterturn -n "$brief" -l weight -x -d 'of the airplane today'
complete -c quarterturn -n "$brief" -l altitude -x -d 'at the entry'
complete -c quarterturn -n "$brief" -l temperature -x -d 'at that altitude'
complete -c quarterturn -n "$brief" -l ground -x -d 'elevation of the ground'
complete -c quarterturn -n "$brief" -l direction -x -a 'left right' \
    -d 'of the turn'
complete -c quarterturn -n "$brief" -l heading -x -d 'at the entry'
complete -c quarterturn -n "$brief" -l wind -x -d 'from degrees/knots'
complete -c quarterturn -n "$brief" -l json -d 'as one JSON object'
complete -c quarterturn -n "$brief" -l page -r -d 'write a page there'

complete -c quarterturn -n "$sounds" -l play -d 'play them'
complete -c quarterturn -n "$sounds" -l wav -r -d 'write them there'
complete -c quarterturn -n "$sounds" -l check -r -d 'check a voice'
