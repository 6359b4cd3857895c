#compdef quarterturn
# Completion of quarterturn's command line for zsh.
# Installed as share/zsh/site-functions/_quarterturn.

_quarterturn() {
    local -a common own verbs
    local context state line
    local levels='(full sparse warnings fading summary)'

    common=(
        '--config[configuration to read]:file:_files'
        '--layout[what the packets look like]:name or file:_files'
        '--aircraft[the airplane]:name or file:_files'
        '--standard[what an attempt is judged by]:name or file:_files'
        '--maneuver[what is flown]:name:(chandelle)'
        '--events[event lines]:file:_files'
        '--quiet[captions of calls only]'
        '--verbose[more on standard error]'
        '--version[print the version]'
        '--help[print the help]'
    )
    verbs=(status mute unmute help-level maneuver aircraft mark again
        new-attempt reload record stop)

    local errors='(bank-shallow bank-steep bank-growing pitch-early pitch-late
        pitch-high pitch-low pitch-sag roll-out-early roll-out-late
        roll-out-uneven level-short level-past ball-out stall sink abandon)'

    _arguments -C $common \
        '1:command:(listen replay debrief rehearse inspect discover tell brief sounds)' \
        '*::words:->words'
    [[ $state == words ]] || return
    case $line[1] in
    listen)
        own=(
            '--address[address to listen on]:address:'
            '--port[port to listen on]:port:'
            '--record[write every packet there]:file:_files'
            '--force[replace the recording]'
            '--wav[write what is heard there]:file:_files'
            '--seconds[stop after so long]:seconds:'
            '--control[socket for tell]:path:_files'
            '--logbook=-[each attempt into the logbook]::file:_files'
            '--no-sound[captions only]'
            "--help-level[how much is said]:level:$levels"
            '--person[who flies]:name:'
            '--pages[write a page about each attempt there]:folder:_files -/'
        )
        ;;
    replay)
        own=(
            '--speed[times real time]:speed:(0.5 1 2 8 max)'
            '--wav[write what is heard there]:file:_files'
            '--port[the stream to this port]:port:'
            '--no-sound[captions only]'
            "--help-level[how much is said]:level:$levels"
            '--person[who flies]:name:'
            '--pages[write a page about each attempt there]:folder:_files -/'
            '1:recording:_files'
        )
        ;;
    debrief)
        own=(
            '--page[a page of the attempt, or of the progress]:file:_files'
            '--pages[write a page about each attempt there]:folder:_files -/'
            '--json[write each attempt there as JSON]:file:_files'
            '--csv[write the series of an attempt there]:file:_files'
            '--attempt[this one only]:number:'
            '--person[who flew]:name:'
            '--logbook=-[into the logbook, or its progress]::file:_files'
            '--port[the stream to this port]:port:'
            '1:recording:_files'
        )
        ;;
    rehearse)
        own=(
            '--direction[which way it turns]:direction:(left right)'
            "--error[make an error, NAME=SIZE]:error:$errors"
            '--list[explain the errors]'
            '--unsteady[hand, 0 to 3]:much:'
            '--turbulence[rough air]:strength:(none light moderate)'
            '--wind[DEG/KT it blows from]:wind:'
            '--weight[of the airplane]:weight:'
            '--altitude[of the entry]:altitude:'
            '--temperature[there]:temperature:'
            '--ground[altitude of the ground]:altitude:'
            '--heading[of the entry]:heading:'
            '--seed[of hand and air]:number:'
            '--rate[packets a second]:rate:'
            '--speed[times real time]:speed:(0.5 1 2 8 max)'
            '--address[send there]:address:'
            '--port[send there]:port:'
            '--record[into a recording]:file:_files'
            '--truth[write what was flown]:file:_files'
            '--force[replace the files]'
            '--hold-at[stop there until Enter]:degrees:'
        )
        ;;
    inspect)
        own=(
            '--address[address to listen on]:address:'
            '--port[port]:port:'
            '--seconds[for so long]:seconds:'
            '--json[as one JSON object]'
            '--check[check the configuration]'
            '1:recording:_files'
        )
        ;;
    discover)
        own=(
            '--output[write the layout there]:file:_files'
            '--force[replace the file]'
            '--address[address to listen on]:address:'
            '--port[port]:port:'
            '--seconds[for so long]:seconds:'
            '--no-sound[ask by captions only]'
            '1:recording:_files'
        )
        ;;
    tell)
        own=(
            '--control[socket of the daemon]:path:_files'
            '--json[the answer as it came]'
            "1:what:($verbs)"
            '*:value:->value'
        )
        ;;
    brief)
        own=(
            '--weight[of the airplane today]:weight:'
            '--altitude[at the entry]:altitude:'
            '--temperature[at that altitude]:temperature:'
            '--ground[elevation of the ground]:elevation:'
            '--direction[of the turn]:direction:(left right)'
            '--heading[at the entry]:heading:'
            '--wind[from degrees/knots]:wind:'
            '--json[as one JSON object]'
            '--page[write a page there]:file:_files'
        )
        ;;
    sounds)
        own=(
            '--play[play them]'
            '--wav[write them there]:file:_files'
            '--check[check a voice]:folder:_files -/'
        )
        ;;
    esac
    _arguments $own $common
    [[ $state == value ]] || return
    case $words[CURRENT-1] in
    help-level) compadd full sparse warnings fading summary ;;
    maneuver) compadd chandelle ;;
    record) compadd on off ;;
    aircraft) _files ;;
    esac
}

_quarterturn "$@"
